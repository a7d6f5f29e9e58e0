// Answers many loose pieces by the page's own law, outside of a browser.
// node answers.mjs PAGE_FOLDER < {"tables": …, "pieces": [{"counts": [...], "role", "marks", "features"}]}
import { readFileSync } from "node:fs";
import { join, resolve } from "node:path";
import { pathToFileURL } from "node:url";

const folder = resolve(process.argv[2]);
const { answerJson } = await import(pathToFileURL(join(folder, "seen.js")).href);
const { prepare } = await import(pathToFileURL(join(folder, "law.js")).href);
const { tables, pieces } = JSON.parse(readFileSync(0, "utf8"));
const model = prepare(tables);
console.log(JSON.stringify(pieces.map((piece) => answerJson(model, piece))));
