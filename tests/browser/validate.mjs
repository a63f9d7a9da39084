// Every kind of page that is written, held against the HTML standard by html-validate: measured, unsure, without a scale, refused.
//
// SEAMSTEP names the binary. HTML files given as arguments are validated instead. Where html-validate is not installed
// nothing is validated, and that is said.
import { spawnSync } from "node:child_process";
import { mkdtempSync, rmSync, writeFileSync } from "node:fs";
import { tmpdir } from "node:os";
import { join } from "node:path";

const root = new URL("../..", import.meta.url).pathname;
const CLOTHS = ["reports/cloth/broad-check.jpg", "fixtures/along-00.jpg", "fixtures/plain-02.jpg"];
const PHOTOGRAPHS = ["profile-01", "flat-01", "turn-01", "nocard-02", "along-00", "truth.json"];

const library = await import("html-validate").catch(() => null);
if (!library) {
  console.log("skipped: html-validate is not installed (npm ci in tests/browser)");
  process.exit(0);
}
const validator = new library.HtmlValidate(new library.StaticConfigLoader({
  extends: ["html-validate:recommended", "html-validate:standard", "html-validate:a11y"],
}));

/** The page of each photograph of flat cloth, written into `folder`. */
function cloths(folder) {
  return CLOTHS.map((name, k) => {
    const file = join(folder, `cloth-${k}.html`);
    const more = ["--pieces", "620,540x2", "--report", file];
    const run = spawnSync(process.env.SEAMSTEP, ["cloth", join(root, name), ...more], { encoding: "utf8" });
    if (![0, 3, 4].includes(run.status)) throw new Error(`${name}: ${run.stderr}${run.error ?? ""}`);
    return file;
  });
}

/** The report of each photograph, written into `folder`. */
function reports(folder) {
  return PHOTOGRAPHS.map((name) => {
    const photo = join(root, "fixtures", name.includes(".") ? name : `${name}.jpg`);
    const file = join(folder, `${name}.html`);
    const run = spawnSync(process.env.SEAMSTEP, ["check", photo, "--report", file], { encoding: "utf8" });
    if (![0, 1, 3, 4].includes(run.status)) throw new Error(`${name}: ${run.stderr}${run.error ?? ""}`);
    return file;
  });
}

/** The sheet of a whole piece, written into `folder`. */
function sheet(folder) {
  const file = join(folder, "garment.html");
  const garment = join(root, "reports", "waistcoat", "handmade.toml");
  const run = spawnSync(process.env.SEAMSTEP, ["garment", garment, "--report", file], { encoding: "utf8" });
  if (run.status !== 1) throw new Error(`garment: ${run.stderr}${run.error ?? ""}`);
  return file;
}

/** The page of a lot of all of them, with a sampling plan. */
function lot(folder) {
  const file = join(folder, "lot.html");
  const photos = PHOTOGRAPHS.map((name) => join(root, "fixtures", name.includes(".") ? name : `${name}.jpg`));
  const options = ["--named", "{piece}-{}", "--aql", "2.5", "--report", file];
  const run = spawnSync(process.env.SEAMSTEP, ["lot", ...photos, ...options], { encoding: "utf8" });
  if (![0, 1, 3].includes(run.status)) throw new Error(`lot: ${run.stderr}${run.error ?? ""}`);
  return file;
}

/** The page of a study of the way of photographing: one photograph, given as two people's of two seams. */
function repeatability(folder) {
  const list = join(folder, "again.csv");
  const photo = join(root, "fixtures", "flat-01.jpg");
  const rows = ["a", "b"].flatMap((piece) => ["Wren", "Lark"].map((by) => `${photo},${piece},,${by}`));
  writeFileSync(list, ["photo,piece,place,by", ...rows, `${root}fixtures/./flat-01.jpg,a,,Wren`].join("\n"));
  const file = join(folder, "repeatability.html");
  const run = spawnSync(process.env.SEAMSTEP, ["repeatability", list, "--report", file], { encoding: "utf8" });
  if (![0, 1, 3].includes(run.status)) throw new Error(`repeatability: ${run.stderr}${run.error ?? ""}`);
  return file;
}

/** The page of two pieces side by side. */
function compared(folder) {
  const file = join(folder, "compared.html");
  const photos = ["profile-01", "along-00"].map((name) => join(root, "fixtures", `${name}.jpg`));
  const run = spawnSync(process.env.SEAMSTEP, ["compare", ...photos, "--report", file], { encoding: "utf8" });
  if (![0, 1, 3, 4].includes(run.status)) throw new Error(`compare: ${run.stderr}${run.error ?? ""}`);
  return file;
}

const folder = mkdtempSync(join(tmpdir(), "seamstep-pages-"));
let faults = 0;
try {
  const pages = () => [...reports(folder), lot(folder), repeatability(folder), sheet(folder), compared(folder), ...cloths(folder)];
  const files = process.argv.length > 2 ? process.argv.slice(2) : pages();
  for (const file of files) {
    const report = await validator.validateFile(file);
    for (const { messages } of report.results) {
      for (const { ruleId, line, column, message } of messages) console.log(`${file}:${line}:${column} ${ruleId}: ${message}`);
      faults += messages.length;
    }
  }
  console.log(`${files.length} pages, ${faults} faults`);
} finally {
  rmSync(folder, { recursive: true, force: true });
}
process.exit(faults ? 1 : 0);
