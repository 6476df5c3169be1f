// Opens reports in Chromium as a reader does: from disk, at several widths, with mouse and keyboard, on paper.
import assert from "node:assert/strict";
import { execFileSync } from "node:child_process";
import { mkdirSync, mkdtempSync, readFileSync, rmSync, writeFileSync } from "node:fs";
import { tmpdir } from "node:os";
import { join, resolve } from "node:path";
import { after, before, describe, it } from "node:test";
import { pathToFileURL } from "node:url";
import { createRequire } from "node:module";
import { chromium } from "playwright-core";

const require = createRequire(import.meta.url);
const axe = readFileSync(require.resolve("axe-core/axe.min.js"), "utf8");
const root = resolve(import.meta.dirname, "../..");
const folder = mkdtempSync(join(tmpdir(), "crownweir-browser-"));
// Where to leave screenshots and PDF files to be looked at; nowhere unless asked.
const gallery = process.env.GALLERY;
const WIDTHS = [360, 768, 1280];

function cargo(...args) {
  return execFileSync("cargo", ["run", "--release", "--quiet", "--locked", ...args], {
    cwd: root,
    encoding: "utf8",
    maxBuffer: 1 << 28,
  });
}

function report(name, network, ...options) {
  const file = join(folder, `${name}.html`);
  cargo("--", "check", network, "--format", "html", "--fail-on", "never", "--output", file, ...options);
  return file;
}

const demo = (name) => join("tests/networks", `${name}.yaml`);
const reports = [
  ["heron-point", () => report("heron-point", demo("heron-point"))],
  ["heron-point-faulty", () => report("heron-point-faulty", demo("heron-point-faulty"), "--loads")],
  ["larch-terrace", () => report("larch-terrace", demo("larch-terrace"))],
  ["larch-terrace-upc-faulty", () => report("larch-terrace-upc-faulty", demo("larch-terrace-upc-faulty"))],
  ["tower", () => {
    const network = join(folder, "tower.yaml");
    // 63 storeys of eight fixtures: 504.
    writeFileSync(network, cargo("-p", "crownweir-benches", "--example", "tower", "--", "63"));
    return report("tower", network, "--rules", "ipc-2021");
  }],
];

let browser;
before(async () => {
  browser = await chromium.launch({
    executablePath: process.env.CHROMIUM ?? "/usr/bin/chromium",
    args: [
      "--no-sandbox", "--disable-gpu", "--disable-quic", "--no-first-run",
      "--disable-background-networking", "--disable-component-update", "--disable-sync",
    ],
  });
  if (gallery) mkdirSync(gallery, { recursive: true });
});
after(async () => {
  await browser?.close();
  rmSync(folder, { recursive: true, force: true });
});

/** Opens a page that may ask for nothing but itself, and collects what it complains of. */
async function open(file, width) {
  const page = await browser.newPage({ viewport: { width, height: 800 } });
  const complaints = [];
  page.on("console", (message) => {
    if (["error", "warning"].includes(message.type())) complaints.push(message.text());
  });
  page.on("pageerror", (error) => complaints.push(String(error)));
  page.on("request", (request) => {
    if (request.url() !== page.url() && request.url() !== String(pathToFileURL(file))) complaints.push(`asks for ${request.url()}`);
  });
  await page.goto(String(pathToFileURL(file)));
  return { page, complaints };
}

/** Whether the element is the target, and all of it or its beginning can be seen. */
const isShown = (id) => {
  const element = document.getElementById(id);
  const box = element.getBoundingClientRect();
  // Within every box that scrolls, too.
  for (let outer = element.parentElement; outer; outer = outer.parentElement) {
    if (getComputedStyle(outer).overflowX !== "auto") continue;
    const around = outer.getBoundingClientRect();
    if (box.right < around.left || box.left > around.right) return false;
  }
  return element.matches(":target") && box.bottom > 0 && box.top < innerHeight && box.right > 0 && box.left < innerWidth;
};

/** Pairs of texts of a drawing that lie over each other, as the browser has set them. */
const overlaps = () => {
  const found = [];
  for (const drawing of document.querySelectorAll("figure svg")) {
    const boxes = [...drawing.querySelectorAll("text")].map((text) => [text.getBBox(), text.textContent]);
    boxes.sort((one, other) => one[0].x - other[0].x);
    for (let i = 0; i < boxes.length; i++) {
      const [one, words] = boxes[i];
      for (let j = i + 1; j < boxes.length && boxes[j][0].x < one.x + one.width; j++) {
        const [other, others] = boxes[j];
        // A box has room above and below its letters.
        const across = Math.min(one.y + one.height, other.y + other.height) - Math.max(one.y, other.y);
        if (across > 4) found.push(`${words} over ${others}`);
      }
    }
  }
  return found;
};

/** What an accessibility check finds serious. */
async function serious(page) {
  await page.evaluate(axe);
  const { violations } = await page.evaluate(() => window.axe.run(document, { resultTypes: ["violations"] }));
  return violations
    .filter(({ impact }) => ["serious", "critical"].includes(impact))
    .map(({ id, help, nodes }) => `${id}: ${help}: ${nodes.slice(0, 3).map(({ html }) => html.slice(0, 160)).join(" | ")}`);
}

describe("the checks themselves", () => {
  it("find what is wrong", async () => {
    const file = join(folder, "faulty.html");
    writeFileSync(file, `<!doctype html><title>x</title><div style="width:2000px">wide</div><p id="here">x</p>
      <figure><svg width="200" height="50"><text x="5" y="20">one</text><text x="9" y="22">two</text></svg></figure>
      <img src="missing.png"><script>console.error("broken")</script>`);
    const { page, complaints } = await open(file, 360);
    assert.ok(await page.evaluate(() => document.documentElement.scrollWidth) > 360);
    assert.deepEqual(await page.evaluate(overlaps), ["one over two"]);
    assert.equal(await page.evaluate(isShown, "here"), false);
    assert.ok(complaints.some((one) => one.includes("missing.png")));
    assert.ok(complaints.some((one) => one.includes("broken")));
    assert.ok((await serious(page)).some((one) => one.startsWith("image-alt")));
    await page.close();
  });
});

for (const [name, make] of reports) {
  describe(name, () => {
    let file;
    before(() => { file = make(); });

    it("opens at every width without complaint and without scrolling sideways", async () => {
      for (const width of WIDTHS) {
        const { page, complaints } = await open(file, width);
        const wide = await page.evaluate(() => document.documentElement.scrollWidth);
        assert.ok(wide <= width, `${wide} at ${width}`);
        assert.deepEqual(complaints, []);
        if (gallery) await page.screenshot({ path: join(gallery, `${name}-${width}.png`), fullPage: name !== "tower" });
        await page.close();
      }
    });

    it("leads from findings to the drawing and back", async () => {
      const { page } = await open(file, 1280);
      const links = page.locator("article.finding a[href^='#mark-']:not(.picture)");
      const count = await links.count();
      if (name.includes("faulty")) assert.ok(count > 5, `${count} links`);
      for (let i = 0; i < Math.min(count, 40); i++) {
        const link = links.nth(i);
        const mark = (await link.getAttribute("href")).slice(1);
        const finding = await link.evaluate((element) => element.closest("article").id);
        // By mouse one way and by keyboard the other, in turn.
        if (i % 2) await link.click();
        else { await link.focus(); await page.keyboard.press("Enter"); }
        assert.ok(await page.evaluate(isShown, mark), `${mark} is not shown`);
        const back = page.locator(`[id="${mark}"]`);
        assert.equal(await back.getAttribute("href"), `#${finding}`);
        if (i % 2) { await back.focus(); await page.keyboard.press("Enter"); }
        else await back.click();
        assert.ok(await page.evaluate(isShown, finding), `${finding} is not shown`);
      }
      await page.close();
    });

    it("has no text over other text in the drawing", async () => {
      const { page } = await open(file, 1280);
      assert.deepEqual(await page.evaluate(overlaps), []);
      await page.close();
    });

    it("prints: a wide sheet to a page across, the rest upright", async () => {
      const { page } = await open(file, 1280);
      const sheets = await page.locator("figure:not(.tall)").count();
      for (const format of ["A4", "Letter"]) {
        const pdf = await page.pdf({ format, printBackground: true, preferCSSPageSize: false });
        if (gallery) writeFileSync(join(gallery, `${name}-${format}.pdf`), pdf);
        const text = pdf.toString("latin1");
        const pages = text.match(/\/Type\s*\/Page\b(?!s)/g).length;
        const boxes = [...text.matchAll(/\/MediaBox\s*\[0 0 ([\d.]+) ([\d.]+)\]/g)];
        assert.equal(boxes.length, pages);
        const across = boxes.filter(([, width, height]) => Number(width) > Number(height)).length;
        assert.equal(across, sheets, `${format}: ${pages} pages`);
        assert.ok(pages > across + 2);
      }
      await page.close();
    });

    it("is accessible", async () => {
      const { page } = await open(file, 1280);
      assert.deepEqual(await serious(page), []);
      await page.close();
    });
  });
}
