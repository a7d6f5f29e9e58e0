// Opens a page in a headless browser and says as JSON what came of it: what the console said, what
// was asked of the network, what the accessibility check found, how many pages it prints to, and
// the text that can be read. node look.mjs PAGE FOLDER CHROMIUM
import { createRequire } from "node:module";
import { mkdtempSync, readFileSync, rmSync, writeFileSync } from "node:fs";
import { tmpdir } from "node:os";
import { join } from "node:path";
import { pathToFileURL } from "node:url";

const [page_file, folder, chromium] = process.argv.slice(2);
const require = createRequire(join(folder, "node_modules", "x.js"));
const { chromium: driver } = require("playwright-core");
const profile = mkdtempSync(join(tmpdir(), "browser-"));
const context = await driver.launchPersistentContext(profile, {
  executablePath: chromium,
  headless: true,
  args: ["--no-sandbox", "--disable-gpu", "--disable-quic", "--no-first-run",
    "--disable-background-networking", "--disable-component-update", "--disable-sync"],
  // The check is put in from outside, which the page itself rightly forbids.
  bypassCSP: true,
});
const found = { console: [], requests: [], violations: [], passed: [], views: {},
  text: "", pdf: "" };
try {
  const page = await context.newPage();
  const address = pathToFileURL(page_file).href;
  page.on("console", (said) => found.console.push(said.text()));
  page.on("pageerror", (error) => found.console.push(String(error)));
  page.on("request", (request) => {
    if (request.url() !== address) found.requests.push(request.url());
  });
  await page.goto(address);
  found.text = await page.evaluate(() => document.documentElement.innerText
    + " " + [...document.querySelectorAll("svg text")].map((t) => t.textContent).join(" "));
  const pdf = await page.pdf({ format: "A4", preferCSSPageSize: true });
  found.pdf = page_file.replace(/\.html$/, "-printed.pdf");
  writeFileSync(found.pdf, pdf);
  await page.addScriptTag({ content: readFileSync(
    join(folder, "node_modules", "axe-core", "axe.min.js"), "utf8") });
  // On a telephone and on a desk, by day and by night.
  for (const width of [390, 1280]) {
    for (const colorScheme of ["light", "dark"]) {
      await page.setViewportSize({ width, height: 800 });
      await page.emulateMedia({ colorScheme });
      const at = `${width} ${colorScheme}`;
      const checked = await page.evaluate(async () => await globalThis.axe.run());
      found.violations.push(...checked.violations.map(
        (v) => `${v.id}: ${at}: ${v.nodes.map((n) => n.html)}`));
      found.passed.push(...checked.passes.map((p) => p.id));
      found.views[at] = await page.evaluate(() => {
        const seen = [...document.querySelectorAll("body *")].filter((e) =>
          e.getClientRects().length && [...e.childNodes].some(
            (n) => n.nodeType === 3 && n.textContent.trim()));
        const size = (e) => {
          const scale = e instanceof SVGGraphicsElement ? e.getScreenCTM().a : 1;
          return parseFloat(getComputedStyle(e).fontSize) * scale;
        };
        return {
          sideways: document.documentElement.scrollWidth - innerWidth,
          least: Math.min(...seen.filter((e) => e.tagName !== "title").map(size)),
        };
      });
    }
  }
} finally {
  await context.close();
  rmSync(profile, { recursive: true, force: true });
}
console.log(JSON.stringify(found));
