// Goes through the field page in a real browser, as its user would, and says as JSON what came of it.
// node field.mjs SCENARIO BROWSER_FOLDER CHROMIUM < what the scenario needs, as JSON
import { createReadStream, mkdtempSync, readFileSync, rmSync, statSync } from "node:fs";
import { createServer } from "node:http";
import { createRequire } from "node:module";
import { tmpdir } from "node:os";
import { extname, join } from "node:path";
import { pathToFileURL } from "node:url";

const [scenario, folder, executablePath] = process.argv.slice(2);
const asked = JSON.parse(readFileSync(0, "utf8") || "{}");
const require = createRequire(join(folder, "node_modules", "x.js"));
const { chromium } = require("playwright-core");
const axe = () => readFileSync(join(folder, "node_modules", "axe-core", "axe.min.js"), "utf8");
const args = ["--no-sandbox", "--disable-gpu", "--disable-quic", "--no-first-run",
  "--disable-background-networking", "--disable-component-update", "--disable-sync"];
const PHONE = { width: 360, height: 640 }, TURNED = { width: 844, height: 390 };
const PARTS = ["hand", "chalk", "key", "wanted", "bag", "about"];

/** A page with what its console said and what it asked of the network. */
async function opened(context, address, found, more = {}) {
  const page = await context.newPage();
  found.console ??= [];
  found.requests ??= [];
  page.on("console", (said) => found.console.push(said.text()));
  page.on("pageerror", (error) => found.console.push(String(error)));
  page.on("request", (request) => {
    if (!/^(data|blob):/.test(request.url()) && request.url() !== address) {
      found.requests.push(request.url());
    }
  });
  page.on("dialog", (dialog) => {
    (found.dialogs ??= []).push(dialog.type());
    dialog.accept().catch(() => {});
  });
  if (more.before) await page.addInitScript(more.before);
  await page.goto(address);
  return page;
}

const part = (page, name) => page.click(`nav [data-part="${name}"]`);
const named = (page, name) => page.click(`[data-name="${name}"]`);

/** Type a piece, given in its words, with the keys on the screen. */
async function typed(page, words, hard = false) {
  const press = (name) => (hard ? page.keyboard.press(name) : named(page, `key ${name}`));
  if (!hard) await part(page, "hand");
  const inner = words.filter((word) => word !== "..");
  for (const [i, word] of inner.entries()) {
    const [, digits, unsure, times] = /^(?:_|([0-9]+)(u?)(?:x([0-9]+))?)$/.exec(word);
    if (!digits) {
      await press(hard ? "_" : "not seen");
      continue;
    }
    for (const digit of digits) await press(digit);
    if (unsure) await press(hard ? "u" : "unsure");
    for (let n = 1; n < Number(times ?? 1); n++) await press(hard ? "x" : "same again");
    if (i < inner.length - 1) await press(hard ? "Enter" : "next wheel");
  }
  // After a last wheel that was not seen the page waits for the next: the piece ends here.
  const ends = await page.evaluate(() => [globalThis.cogtallyField.app.hand.piece.openStart,
    globalThis.cogtallyField.app.hand.piece.openEnd]);
  if (ends[0] !== (words[0] === "..")) await named(page, "openStart");
  if (ends[1] !== (words.at(-1) === ".." && words.length > 1)) await named(page, "openEnd");
}

const wordsIn = (page) => page.evaluate(() => {
  const { hand } = globalThis.cogtallyField.app, { piece } = hand;
  return [...(piece.openStart ? [".."] : []), ...piece.places.map(([c]) => (c
    ? `${c.teeth}${c.unsure ? "u" : ""}${c.times > 1 ? `x${c.times}` : ""}` : "_")),
  ...(piece.openEnd ? [".."] : [])];
});

async function inBag(page, words, details = {}) {
  await typed(page, words);
  await page.click("text=Put in the bag");
  for (const [name, text] of Object.entries(details)) await page.fill(`[data-name="${name}"]`, text);
  await named(page, "save");
}

const bagOf = (page) => page.evaluate(() => globalThis.cogtallyField.app.store.bag());
const notesOf = (page) => page.evaluate(() => document.querySelector("#notes").innerText);

async function csvOf(page) {
  await part(page, "bag");
  const [download] = await Promise.all([page.waitForEvent("download"), named(page, "save file")]);
  return readFileSync(await download.path(), "utf8");
}

/** What does not fit: sideways scrolling, keys below 48 pixels. */
const misfits = (page) => page.evaluate(() => {
  const found = [];
  const wide = [...document.querySelectorAll("html, body, main, main *")].filter((one) =>
    one.scrollWidth > one.clientWidth + 1 && getComputedStyle(one).overflowX !== "visible");
  if (document.documentElement.scrollWidth > innerWidth) found.push("the page scrolls sideways");
  for (const one of wide) {
    if (!one.classList.contains("hidden")) found.push(`wider than its place: ${one.outerHTML.slice(0, 90)}`);
  }
  for (const one of document.querySelectorAll("button, select, input, summary, textarea")) {
    const box = one.getBoundingClientRect();
    if (box.width && (box.width < 48 || box.height < 48)) {
      found.push(`${box.width.toFixed()}x${box.height.toFixed()}: ${one.outerHTML.slice(0, 90)}`);
    }
  }
  return found;
});

async function checked(page) {
  await page.addScriptTag({ content: axe() });
  const result = await page.evaluate(() => globalThis.axe.run(document, {
    rules: { "color-contrast-enhanced": { enabled: true }, "target-size": { enabled: true } } }));
  return { violations: result.violations.map((v) => `${v.id}: ${v.nodes.map((n) => n.html.slice(0, 120))}`),
    passed: result.passes.map(({ id }) => id) };
}

/** A static host of a folder, which can be changed while it runs. */
async function host(place) {
  const state = { place, asked: [] };
  const kinds = { ".html": "text/html", ".js": "text/javascript", ".png": "image/png",
    ".webmanifest": "application/manifest+json" };
  const server = createServer((request, response) => {
    const path = new URL(request.url, "http://x").pathname;
    const file = join(state.place, path.endsWith("/") ? "index.html" : path.slice(1));
    state.asked.push(path);
    if (state.down) {
      request.socket.destroy();
      return;
    }
    try {
      statSync(file);
    } catch {
      response.writeHead(404).end();
      return;
    }
    // As a careless host does: everything may be kept for a day.
    response.writeHead(200, { "content-type": kinds[extname(file)] ?? "text/plain",
      "cache-control": "max-age=86400" });
    createReadStream(file).pipe(response);
  });
  await new Promise((done) => server.listen(0, "127.0.0.1", done));
  return { state, address: `http://localhost:${server.address().port}/`, stop: () => { server.closeAllConnections(); server.close(); } };
}

const SCENARIOS = {
  /** Many pieces asked of the page itself, from a file, without a network; some typed key by key. */
  async answers(browser, found) {
    const context = await browser.newContext({ offline: true, viewport: PHONE });
    const page = await opened(context, asked.page, found);
    found.answers = await page.evaluate((pieces) =>
      pieces.map((piece) => globalThis.cogtallyField.answer(piece)), asked.pieces);
    found.typed = [];
    for (const words of asked.typed ?? []) {
      await part(page, "hand");
      await typed(page, words);
      found.typed.push({ words: await wordsIn(page), shown: await page.innerText(".answer") });
      await named(page, "clear");
    }
  },

  /** Every part at both sizes and in both lights: what does not fit, and what axe-core finds. */
  async looks(browser, found) {
    found.misfits = {};
    found.violations = {};
    found.passed = [];
    for (const [size, viewport] of Object.entries({ phone: PHONE, turned: TURNED })) {
      for (const colorScheme of ["light", "dark"]) {
        // The check is put in from outside, which the page itself rightly forbids.
        // Colours are judged as they come to stand, not on their way there.
        const context = await browser.newContext({ viewport, colorScheme, bypassCSP: true,
          reducedMotion: "reduce", hasTouch: true, isMobile: true });
        const page = await opened(context, asked.page, found);
        await inBag(page, asked.pieces[0], { price: "12.50", currency: "EUR", place: "stall 4",
          note: "a long note of what was said about it, with everything that somebody remembered" });
        const see = async (name) => {
          const at = `${name}-${size}-${colorScheme}`;
          const misfit = await misfits(page), { violations, passed } = await checked(page);
          if (misfit.length) found.misfits[at] = misfit;
          if (violations.length) found.violations[at] = violations;
          found.passed = [...new Set([...found.passed, ...passed])];
          if (asked.pictures) await page.screenshot({ path: join(asked.pictures, `${at}.png`) });
        };
        for (const name of PARTS) {
          await part(page, name);
          await see(name);
        }
        for (const [i, words] of asked.pieces.entries()) {
          await part(page, "hand");
          await typed(page, words);
          await page.waitForTimeout(150);
          await see(`piece-${i}`);
          if (!i) {
            await named(page, "more");
            await page.waitForTimeout(50);
            await see("more");
            await page.click("text=Put in the bag");
            await see("form");
            await named(page, "not now");
            await part(page, "hand");
          }
          await named(page, "clear");
        }
        await part(page, "key");
        await page.click(".choices button");
        await see("key-step");
        for (let i = 0; i < 9 && await page.$(".choices .digit"); i++) await page.click(".choices .digit");
        await see("key-end");
        await part(page, "chalk");
        for (let i = 0; i < 10; i++) await named(page, "tap");
        await see("chalk-ten");
        await context.close();
      }
    }
  },

  /** A keyboard alone: a piece is typed, put in the bag with a price, and the bag is read. */
  async keyboard(browser, found) {
    const context = await browser.newContext({ offline: true, viewport: PHONE });
    const page = await opened(context, asked.page, found);
    await typed(page, asked.words, true);
    found.words = await wordsIn(page);
    const to = async (wanted) => {
      for (let i = 0; i < 120; i++) {
        await page.keyboard.press("Tab");
        const at = await page.evaluate(() => `${document.activeElement.dataset.name ?? ""}|${
          document.activeElement.innerText ?? ""}`);
        if (at.split("|").some((text) => text.trim() === wanted)) return;
      }
      throw new Error(`the keyboard does not come to ${wanted}`);
    };
    await to("Put in the bag");
    await page.keyboard.press("Enter");
    await to("price");
    await page.keyboard.type("12,50");
    await to("currency");
    await page.keyboard.type("eur");
    await page.keyboard.press("Enter");
    found.bag = await bagOf(page);
    await to("Count");
    await page.keyboard.press("Enter");
    await page.evaluate(() => document.activeElement.blur());
    for (let i = 0; i < 23; i++) await page.keyboard.press("Space");
    await to("one back");
    await page.keyboard.press("Enter");
    await to("into the hand");
    await page.keyboard.press("Enter");
    found.counted = await wordsIn(page);
    await to("Key");
    await page.keyboard.press("Enter");
    await to(asked.family);
    await page.keyboard.press("Enter");
    found.key = await page.innerText("main");
  },

  /** The bag: out as CSV, and still there after a reload, in a second window, and in a private one. */
  async bag(browser, found) {
    const profile = mkdtempSync(join(tmpdir(), "browser-"));
    const context = await chromium.launchPersistentContext(profile,
      { executablePath, headless: true, args, viewport: PHONE, offline: true, acceptDownloads: true });
    const page = await opened(context, asked.page, found);
    for (const { words, details, mark } of asked.things) {
      await part(page, "hand");
      if (mark) {
        await typed(page, words);
        if (!await page.$("details[open]")) await named(page, "more");
        await page.fill('[data-name="mark"]', mark);
        await named(page, "add mark");
        await page.click("text=Put in the bag");
        for (const [name, text] of Object.entries(details)) await page.fill(`[data-name="${name}"]`, text);
        await named(page, "save");
      } else await inBag(page, words, details);
    }
    found.csv = await csvOf(page);
    await page.reload();
    found.afterReload = (await bagOf(page)).map(({ counts }) => counts);
    // A piece half typed, and a form half filled in, are there after a reload too.
    await part(page, "hand");
    await typed(page, ["28", "24u"]);
    await page.reload();
    found.hand = await wordsIn(page);
    await page.click("text=Put in the bag");
    await page.fill('[data-name="note"]', "half a note");
    await page.reload();
    found.form = await page.inputValue('[data-name="note"]');
    await named(page, "not now");
    // Two windows: each adds one thing, both see both, and each has a hand of its own.
    const other = await opened(context, asked.page, found);
    found.otherBegins = await wordsIn(other);
    await inBag(other, ["31"]);
    await typed(other, ["17"]);
    await part(page, "hand");
    await named(page, "clear");
    await inBag(page, ["33"]);
    await typed(page, ["18"]);
    await page.reload();
    await other.reload();
    found.windows = [await wordsIn(page), await wordsIn(other)];
    found.both = [(await bagOf(page)).length, (await bagOf(other)).length];
    // A window that was shut leaves its hand to be taken up again.
    await other.close();
    await named(page, "clear");
    found.left = await page.innerText(".answer");
    await page.click("text=Take it");
    found.taken = await wordsIn(page);
    await context.close();
    rmSync(profile, { recursive: true, force: true });
    const shut = await browser.newContext({ viewport: PHONE, acceptDownloads: true });
    const secret = await opened(shut, asked.page, found);
    await inBag(secret, ["24"]);
    await secret.reload();
    found.privately = (await bagOf(secret)).map(({ counts }) => counts);
    await part(secret, "bag");
    found.privateWords = await secret.innerText("main");
  },

  /** A storage that is full, and one that is not there: all stays on the screen, and it is said. */
  async storage(browser, found) {
    const context = await browser.newContext({ viewport: PHONE, acceptDownloads: true });
    const page = await opened(context, asked.page, found);
    await page.evaluate(() => {
      let text = "x".repeat(1 << 20);
      for (let n = 0; text; n++) {
        try {
          localStorage.setItem(`other ${n}`, text);
        } catch {
          text = text.slice(0, text.length >> 1);
        }
      }
    });
    await inBag(page, ["24"], { note: "when it was full" });
    found.full = { notes: await notesOf(page), bag: (await bagOf(page)).map((t) => t.counts),
      csv: await csvOf(page) };
    await page.evaluate(() => localStorage.removeItem("other 0"));
    await named(page, "try again");
    found.again = { notes: await notesOf(page) };
    await page.reload();
    found.again.bag = (await bagOf(page)).map(({ counts, note }) => [counts, note]);
    const barred = await browser.newContext({ viewport: PHONE, acceptDownloads: true });
    const bare = await opened(barred, asked.page, found, { before: () => {
      for (const name of ["localStorage", "sessionStorage"]) {
        Object.defineProperty(globalThis, name, { get() { throw new DOMException("no", "SecurityError"); } });
      }
    } });
    await inBag(bare, ["24"]);
    found.none = { notes: await notesOf(bare), bag: (await bagOf(bare)).map(({ counts }) => counts),
      csv: await csvOf(bare) };
    found.dialogs = [];
    await bare.close({ runBeforeUnload: true });
    await new Promise((done) => setTimeout(done, 500));
  },

  /** The folder on a host: installed, without a network, reloaded, and never an older page again. */
  async folder(browser, found) {
    const server = await host(asked.first);
    // A private window installs nothing.
    const profile = mkdtempSync(join(tmpdir(), "browser-"));
    const context = await chromium.launchPersistentContext(profile,
      { executablePath, headless: true, args, viewport: PHONE });
    const page = await opened(context, server.address, found);
    const made = () => page.evaluate(() => globalThis.cogtallyField.app.tables.catalog.made);
    const kept = () => page.evaluate(async () => (await caches.keys()).length);
    const ready = async () => {
      await page.evaluate(async () => { await navigator.serviceWorker.ready; });
      for (let i = 0; i < 50 && !await page.evaluate(() => navigator.serviceWorker.controller !== null); i++) {
        await page.waitForTimeout(100);
      }
    };
    await ready();
    const client = await context.newCDPSession(page);
    found.installability = (await client.send("Page.getInstallabilityErrors")).installabilityErrors;
    found.manifest = (await client.send("Page.getAppManifest")).errors;
    const network = async (there) => {
      server.state.down = !there;
      await context.setOffline(!there);
    };
    await network(false);
    await page.reload();
    found.offline = { made: await made() };
    await typed(page, asked.words);
    await page.waitForTimeout(150);
    found.offline.shown = await page.innerText(".answer");
    await network(true);
    // A newer page on the host: it comes, and is said.
    server.state.place = asked.second;
    await page.reload();
    for (let i = 0; i < 50 && !/newer/.test(await notesOf(page)); i++) await page.waitForTimeout(100);
    found.newer = { notes: await notesOf(page) };
    await named(page, "show newer");
    await page.waitForTimeout(300);
    Object.assign(found.newer, { made: await made(), hand: await wordsIn(page), kept: await kept() });
    // A host that hands out the old one again, worker and all: what is there stays.
    server.state.place = asked.first;
    for (let i = 0; i < 2; i++) {
      await page.reload();
      await page.waitForTimeout(700);
    }
    found.stale = { made: await made(), kept: await kept() };
    await network(false);
    await page.reload();
    found.stale.offline = await made();
    await network(true);
    // A new worker beside an old page, as a cache on the way makes it: nothing of it is kept.
    server.state.place = asked.mixed;
    await page.reload();
    await page.waitForTimeout(700);
    await network(false);
    await page.reload();
    found.mixed = { made: await made() };
    server.stop();
    await context.close();
    rmSync(profile, { recursive: true, force: true });
  },

  /** Names of a catalog that would be markup or script stay text, and no request leaves. */
  async hostile(browser, found) {
    const context = await browser.newContext({ viewport: PHONE });
    const page = await opened(context, asked.page, found);
    found.texts = [];
    await typed(page, asked.words);
    await page.waitForTimeout(150);
    found.texts.push(await page.innerText(".answer"));
    found.misfits = await misfits(page);
    await page.click("text=Put in the bag");
    await page.fill('[data-name="note"]', asked.note);
    await named(page, "save");
    for (const name of PARTS) {
      await part(page, name);
      found.texts.push(await page.innerText("main"));
      found.misfits.push(...await misfits(page));
    }
    await part(page, "key");
    await page.click(".choices button");
    found.texts.push(await page.innerText("main"));
    found.made = await page.evaluate(() => [...document.querySelectorAll(
      "main img, main script, main iframe, main a, main svg, main b b")].map((one) => one.outerHTML));
    // What the page may not do, tried from inside of it, with a host that would answer.
    const server = await host(folder);
    found.asked = [...found.requests];
    found.done = await page.evaluate(async (there) => {
      const tried = [];
      const asking = (name, attempt) => Promise.resolve().then(attempt).then(() => tried.push(name), () => {});
      const loading = (tag, attributes) => new Promise((done, failed) => {
        const one = Object.assign(document.createElement(tag), attributes);
        one.onload = done;
        one.onerror = failed;
        document.body.append(one);
        setTimeout(failed, 800);
      });
      await asking("fetch", () => fetch(`${there}x`));
      await asking("image", () => loading("img", { src: `${there}x.png` }));
      await asking("style", () => loading("link", { rel: "stylesheet", href: `${there}x.css` }));
      await asking("script", () => {
        const one = document.createElement("script");
        one.textContent = "globalThis.ran = true";
        document.body.append(one);
        if (!globalThis.ran) throw new Error("it did not run");
      });
      await asking("markup", () => { document.body.insertAdjacentHTML("beforeend", "<i></i>"); });
      return tried;
    }, server.address);
    found.reached = server.state.asked;
    server.stop();
  },

  /** How long the page takes to open and to answer a key, the processor slowed; medians of seven. */
  async speed(browser, found) {
    const median = (numbers) => numbers.sort((a, b) => a - b)[numbers.length >> 1];
    const openedIn = async (address) => {
      const context = await browser.newContext({ viewport: PHONE, offline: true });
      const page = await context.newPage();
      const client = await context.newCDPSession(page);
      await client.send("Emulation.setCPUThrottlingRate", { rate: asked.slowed });
      const before = performance.now();
      await page.goto(address);
      await page.evaluate(() => new Promise((done) => requestAnimationFrame(() => setTimeout(done))));
      return { page, context, ms: performance.now() - before };
    };
    const whole = [], bare = [], keys = [];
    for (let n = 0; n < 7; n++) {
      const blank = await openedIn(asked.bare);
      bare.push(blank.ms);
      await blank.context.close();
      const { page, context, ms } = await openedIn(asked.page);
      whole.push(ms);
      const slowest = await page.evaluate(async (presses) => {
        const times = [];
        for (const key of presses) {
          const from = performance.now();
          document.querySelector(`[data-name="key ${key}"]`).click();
          document.querySelector(".answer").getBoundingClientRect();
          times.push(performance.now() - from);
          await new Promise((done) => setTimeout(done, 150));
        }
        return times;
      }, asked.keys);
      keys.push(slowest);
      await context.close();
    }
    Object.assign(found, { opens: median(whole), bare: median(bare),
      keys: asked.keys.map((_, i) => median(keys.map((times) => times[i]))) });
  },
};

const browser = await chromium.launch({ executablePath, headless: true, args });
const found = {};
try {
  asked.page = asked.page && pathToFileURL(asked.page).href;
  asked.bare = asked.bare && pathToFileURL(asked.bare).href;
  await SCENARIOS[scenario](browser, found);
} finally {
  await browser.close();
  setTimeout(() => process.exit(1), 5000).unref();
}
console.log(JSON.stringify(found));
