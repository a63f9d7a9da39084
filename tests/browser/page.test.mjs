// The page in a real Chromium: what a person with a phone, a mouse, a keyboard or no script meets.
//
// SEAMSTEP names the binary, CHROMIUM the browser; pictures of the sheets go to the folder that PICTURES names.
import { AxeBuilder } from "@axe-core/playwright";
import assert from "node:assert/strict";
import { spawn } from "node:child_process";
import { existsSync, mkdirSync } from "node:fs";
import { join } from "node:path";
import { after, before, test } from "node:test";
import { chromium } from "playwright-core";

const root = new URL("../..", import.meta.url).pathname;
const fixture = (name) => join(root, "fixtures", name);
const pictures = process.env.PICTURES;
const PHONE = { viewport: { width: 390, height: 844 }, hasTouch: true, isMobile: true };
const DESK = { viewport: { width: 1400, height: 900 } };
const patience = 60_000;

let page;
let browser;
let address;

before(async () => {
  page = spawn(process.env.SEAMSTEP, ["page", "--port", "0"], { stdio: ["ignore", "pipe", "inherit"] });
  address = await new Promise((resolve, reject) => {
    let said = "";
    page.stdout.on("data", (part) => {
      said += part;
      const url = said.match(/http:\S+/);
      if (url) resolve(url[0]);
    });
    page.on("exit", () => reject(new Error("the page did not open")));
  });
  const candidates = [process.env.CHROMIUM, "/usr/bin/chromium", "/usr/bin/chromium-browser", "/usr/bin/google-chrome"];
  browser = await chromium.launch({
    executablePath: candidates.find((file) => file && existsSync(file)),
    args: ["--no-sandbox", "--disable-gpu", "--disable-quic", "--no-first-run", "--disable-background-networking",
      "--disable-component-update", "--disable-sync"],
  });
  if (pictures) mkdirSync(pictures, { recursive: true });
});

after(async () => {
  await browser?.close();
  page?.kill("SIGINT");
});

/** A sheet in a fresh window; whatever the browser complains of fails the test, but for what is `expected`. */
async function opened(options, run, expected = /^$/) {
  const context = await browser.newContext({ ...options });
  const sheet = await context.newPage();
  const complaints = [];
  sheet.on("console", (message) => { if (message.type() === "error" && !expected.test(message.text())) complaints.push(message.text()); });
  sheet.on("pageerror", (error) => complaints.push(error.message));
  sheet.setDefaultTimeout(patience);
  try {
    await sheet.goto(address);
    await run(sheet);
    assert.deepEqual(complaints, []);
  } finally {
    await context.close();
  }
}

const answered = (sheet) => sheet.waitForSelector("#answer .state", { timeout: patience });
const idle = (sheet) => sheet.waitForSelector("#seam:not([aria-busy])", { timeout: patience });
const verdict = (sheet) => sheet.locator("#answer h1").innerText();
const finding = async (sheet) => (await sheet.request.get(`${sheet.url()}/finding`)).json();

async function send(sheet, name) {
  await sheet.setInputFiles("#file", fixture(name));
  await sheet.waitForURL(/photographs/, { timeout: patience });
}

/** Waits until the figures are others than `before`. */
async function changed(sheet, before) {
  for (let tries = 0; tries < 300; tries += 1) {
    const now = await finding(sheet);
    if (JSON.stringify(now.seam ?? now.refused) !== JSON.stringify(before.seam ?? before.refused)) return now;
    await sheet.waitForTimeout(200);
  }
  throw new Error("the answer did not change");
}

async function noFault(sheet) {
  const found = await new AxeBuilder({ page: sheet }).withTags(["wcag2a", "wcag2aa", "wcag21a", "wcag21aa", "wcag22aa"]).analyze();
  const faults = found.violations.map((fault) => `${fault.impact} ${fault.id}: ${fault.nodes.map((n) => n.target).join(", ")}`);
  assert.deepEqual(faults, []);
}

/** Nothing stands beyond the window's edge. */
async function fits(sheet) {
  const [wide, window] = await sheet.evaluate(() => [document.documentElement.scrollWidth, innerWidth]);
  assert.ok(wide <= window, `the sheet is ${wide} px wide in a window of ${window}`);
}

for (const [name, options] of [
  ["phone", PHONE],
  ["phone-dark", { ...PHONE, colorScheme: "dark" }],
  ["desk", DESK],
]) {
  test(`a photograph is chosen and its verdict seen: ${name}`, () =>
    opened(options, async (sheet) => {
      await noFault(sheet);
      await fits(sheet);
      await send(sheet, "flat-01.jpg");
      await answered(sheet);
      await idle(sheet);
      assert.match(await verdict(sheet), /^OFF/);
      assert.match(await sheet.locator("#status").innerText(), /^OFF: The lines jump/);
      assert.match(await sheet.locator("#answer").innerText(), /Move the left side up/);
      await noFault(sheet);
      await fits(sheet);
      if (pictures) await sheet.screenshot({ path: join(pictures, `${name}.png`), fullPage: true });
      await sheet.goto(address);
      assert.match(await sheet.locator("ul.seams").innerText(), /flat-01\.jpg/);
      await noFault(sheet);
      if (pictures) await sheet.screenshot({ path: join(pictures, `${name}-front.png`), fullPage: true });
    }));
}

test("the seam is dragged by the mouse and measured where it is put", () =>
  opened(DESK, async (sheet) => {
    await send(sheet, "flat-01.jpg");
    await answered(sheet);
    await idle(sheet);
    const before = await finding(sheet);
    assert.equal(before.seam.source, "found");
    const handle = sheet.getByRole("button", { name: /Seam point 1 of 3/ });
    await handle.scrollIntoViewIfNeeded();
    const box = await handle.boundingBox();
    const [x, y] = [box.x + box.width / 2, box.y + box.height / 2];
    await sheet.mouse.move(x, y);
    await sheet.mouse.down();
    await sheet.mouse.move(x + 6, y + 40, { steps: 8 });
    assert.equal(await sheet.locator(".loupe").isVisible(), true);
    if (pictures) await sheet.screenshot({ path: join(pictures, "dragging.png") });
    await sheet.mouse.up();
    assert.equal(await sheet.locator(".loupe").isVisible(), false);
    const now = await changed(sheet, before);
    assert.equal(now.seam.source, "given");
    // The point went down by 40 px of the window, so the seam begins as much lower.
    const shown = await sheet.locator("#pane").boundingBox();
    const expected = before.seam.points_px[0][1] + (40 * now.photo.height_px) / shown.height;
    assert.ok(Math.abs(now.seam.points_px[0][1] - expected) < 4, `${now.seam.points_px[0][1]} for ${expected}`);
    await idle(sheet);
    assert.match(await verdict(sheet), /^OFF/);
  }));

test("the seam is moved by the keyboard alone", () =>
  opened(DESK, async (sheet) => {
    await send(sheet, "flat-01.jpg");
    await answered(sheet);
    await idle(sheet);
    const before = await finding(sheet);
    const handle = sheet.getByRole("button", { name: /Seam point 3 of 3/ });
    await handle.focus();
    for (let k = 0; k < 3; k += 1) await sheet.keyboard.press("Shift+ArrowUp");
    const now = await changed(sheet, before);
    assert.equal(now.seam.source, "given");
    const last = (told) => told.seam.points_px.at(-1)[1];
    const moved = last(before) - last(now);
    assert.ok(Math.abs(moved - 3 * 0.02 * Math.max(now.photo.height_px, now.photo.width_px)) < 4, `moved by ${moved}`);
    // The one that was moved keeps the keyboard.
    assert.match(await sheet.evaluate(() => document.activeElement.getAttribute("aria-label")), /Seam point 3/);
    await sheet.getByRole("button", { name: "Look for the seam again" }).press("Enter");
    await changed(sheet, now);
    assert.equal((await finding(sheet)).seam.source, "found");
  }));

test("without a card two points and their distance give a verdict", () =>
  opened(PHONE, async (sheet) => {
    await send(sheet, "nocard-02.jpg");
    await answered(sheet);
    await idle(sheet);
    assert.match(await verdict(sheet), /^UNSURE/);
    const before = await finding(sheet);
    await sheet.getByRole("button", { name: "Mark a known length in the picture" }).tap();
    assert.equal(await sheet.locator(".handle.mark").count(), 2);
    await sheet.locator(".handle.mark").first().scrollIntoViewIfNeeded();
    if (pictures) await sheet.screenshot({ path: join(pictures, "two-points.png") });
    await sheet.getByLabel("They are apart").fill("60");
    await sheet.getByRole("button", { name: "Measure again" }).tap();
    for (let tries = 0; (await finding(sheet)).scale?.source !== "length"; tries += 1) {
      assert.ok(tries < 300, "no scale came of the two points");
      await sheet.waitForTimeout(200);
    }
    await idle(sheet);
    assert.ok(before.offset.mean_mm === null && (await finding(sheet)).offset.mean_mm !== null);
    assert.match(await verdict(sheet), /mm/);
    await noFault(sheet);
    await fits(sheet);
  }));

test("four corners of a thing of known size give the scale, dragged by a finger", () =>
  opened(PHONE, async (sheet) => {
    await send(sheet, "nocard-02.jpg");
    await answered(sheet);
    await idle(sheet);
    await sheet.getByLabel("A thing of known size").check();
    assert.equal(await sheet.locator(".handle.mark").count(), 4);
    await sheet.getByLabel("It is", { exact: true }).selectOption({ label: "Bank card, lying" });
    assert.deepEqual([await sheet.getByLabel("Top edge").inputValue(), await sheet.getByLabel("Left edge").inputValue()], ["85.6", "53.98"]);
    const handle = sheet.getByRole("button", { name: /Corner 1 of 4/ });
    await handle.scrollIntoViewIfNeeded();
    const box = await handle.boundingBox();
    const before = await sheet.locator("#corners").inputValue();
    const finger = await sheet.context().newCDPSession(sheet);
    const touch = (type, x, y) =>
      finger.send("Input.dispatchTouchEvent", { type, touchPoints: type === "touchEnd" ? [] : [{ x, y }] });
    const [x, y] = [box.x + box.width / 2, box.y + box.height / 2];
    await touch("touchStart", x, y);
    for (let k = 1; k <= 5; k += 1) await touch("touchMove", x - k, y);
    await touch("touchEnd");
    const now = await sheet.locator("#corners").inputValue();
    assert.notEqual(now.split(" ")[0], before.split(" ")[0]);
    assert.deepEqual(now.split(" ").slice(1), before.split(" ").slice(1));
    for (let tries = 0; (await finding(sheet)).scale?.source !== "rectangle"; tries += 1) {
      assert.ok(tries < 300, "no scale came of the four corners");
      await sheet.waitForTimeout(200);
    }
  }));

test("a refusal shows its cure, and the seam can be marked where none was found", () =>
  opened(PHONE, async (sheet) => {
    await send(sheet, "plain-02.jpg");
    await answered(sheet);
    await idle(sheet);
    assert.match(await verdict(sheet), /^REFUSED/);
    assert.ok((await sheet.locator("#answer strong").innerText()).length > 20);
    await noFault(sheet);
    const mark = sheet.getByRole("button", { name: "Mark the seam in the picture" });
    await mark.tap();
    assert.equal(await sheet.locator(".handle").count(), 2);
    if (pictures) await sheet.screenshot({ path: join(pictures, "refused.png"), fullPage: true });
  }));

test("a file that is no picture is answered on the sheet", () =>
  opened(PHONE, async (sheet) => {
    const refused = sheet.waitForResponse((response) => response.status() === 415);
    await sheet.setInputFiles("#file", { name: "notes.txt", mimeType: "text/plain", buffer: Buffer.from("Dear diary") });
    await refused;
    await sheet.waitForFunction(() => /JPEG/.test(document.querySelector("#status").textContent));
    assert.match(await sheet.locator("#status").innerText(), /cannot be read as a photograph/);
    assert.match(sheet.url(), /\/$/);
  }, /status of 415/));

test("two photographs at once are both answered, kept together and compared", () =>
  opened(DESK, async (sheet) => {
    const context = sheet.context();
    const other = await context.newPage();
    await other.goto(address);
    await Promise.all([[sheet, "turn-00.jpg"], [other, "hue-01.jpg"]].map(async ([one, name]) => {
      await one.fill("#piece", "green waistcoat");
      await send(one, name);
      await answered(one);
      await idle(one);
    }));
    await sheet.goto(address);
    const piece = sheet.locator("section", { has: sheet.getByRole("heading", { name: "green waistcoat" }) });
    assert.equal(await piece.locator("li").count(), 2);
    for (const box of await piece.getByRole("checkbox").all()) await box.check();
    await sheet.getByRole("button", { name: /Compare/ }).click();
    await sheet.waitForURL(/compare/);
    assert.equal(await sheet.getByText("Worst jump").count(), 2);
    await noFault(sheet);
    if (pictures) await sheet.screenshot({ path: join(pictures, "compare.png"), fullPage: true });
  }));

test("without a script a photograph is sent and answered, and asked about again", () =>
  opened({ ...PHONE, javaScriptEnabled: false }, async (sheet) => {
    await sheet.setInputFiles("#file", fixture("flat-01.jpg"));
    await sheet.getByRole("button", { name: "Measure it" }).click();
    await sheet.waitForURL(/photographs/, { timeout: patience });
    assert.match(await verdict(sheet), /^OFF/);
    if (pictures) await sheet.screenshot({ path: join(pictures, "no-script.png"), fullPage: true });
    await sheet.getByLabel("Your own tolerance").fill("4");
    await sheet.getByRole("button", { name: "Measure again" }).click();
    await sheet.waitForURL(/photographs\/[^/]+$/, { timeout: patience });
    assert.match(await verdict(sheet), /^MATCHED/);
    await sheet.getByRole("button", { name: "Remove this photograph" }).click();
    await sheet.waitForURL(address);
  }));

test("every sheet is valid HTML", async () => {
  const { HtmlValidate, StaticConfigLoader } = await import("html-validate");
  const validator = new HtmlValidate(new StaticConfigLoader({
    extends: ["html-validate:recommended", "html-validate:standard", "html-validate:a11y"],
    // Boxes of one question share a name, as HTML means it.
    rules: { "form-dup-name": ["error", { shared: ["radio", "checkbox", "button", "submit", "reset"] }] },
  }));
  await opened(DESK, async (sheet) => {
    await send(sheet, "flat-01.jpg");
    await answered(sheet);
    await idle(sheet);
    const here = sheet.url();
    const id = here.split("/").at(-1);
    const faults = [];
    for (const target of ["/", here, `/compare?of=${id}&of=${id}`, "/nowhere"]) {
      const html = await (await sheet.request.get(new URL(target, address).href, { headers: { Accept: "text/html" } })).text();
      const report = await validator.validateString(html, target);
      for (const { messages } of report.results) {
        for (const { ruleId, line, column, message } of messages) faults.push(`${target}:${line}:${column} ${ruleId}: ${message}`);
      }
    }
    assert.deepEqual(faults, []);
  });
});

test("a tolerance that is changed is judged by at once", () =>
  opened(PHONE, async (sheet) => {
    await send(sheet, "flat-01.jpg");
    await answered(sheet);
    await idle(sheet);
    await sheet.getByLabel("Your own tolerance").fill("1/4in");
    await sheet.getByLabel("Your own tolerance").blur();
    await sheet.waitForFunction(() => /MATCHED/.test(document.querySelector("#answer h1").textContent));
    await sheet.getByLabel("Your own tolerance").fill("wide");
    await sheet.getByLabel("Your own tolerance").blur();
    await sheet.waitForFunction(() => /no length/.test(document.querySelector("#status").textContent));
  }));
