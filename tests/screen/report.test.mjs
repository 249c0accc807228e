// The report of `faultodds-priors report` in a browser: FAULTODDS_REPORT is the page, on an invented fleet.
import assert from "node:assert/strict";
import { after, before, test } from "node:test";
import { pathToFileURL } from "node:url";
import { PHONE, launch, troubleOf, violations } from "./browser.mjs";

const REPORT = process.env.FAULTODDS_REPORT;
const PARTS = ["fails", "posterior", "lives", "machines", "backtest", "shrinkage", "quality", "changed", "records"];

let browser, page, trouble;
const asked = [];

before(async () => {
  browser = await launch();
  page = await browser.newPage({ viewport: { width: 1000, height: 900 } });
  trouble = troubleOf(page);
  page.on("request", (request) => asked.push(request.url()));
  await page.goto(pathToFileURL(REPORT).href);
});
after(() => browser?.close());

test("nothing is fetched but the page, and nothing goes wrong in it", () => {
  assert.deepEqual(asked, [pathToFileURL(REPORT).href]);
  assert.deepEqual(trouble, []);
});

test("each part stands, with something drawn or tabled in it", async () => {
  for (const part of PARTS) {
    assert.ok(await page.locator(`#${part} h2`).isVisible(), part);
    assert.ok((await page.locator(`#${part} svg, #${part} table`).count()) > 0, part);
  }
});

test("no label lies over another, and none beyond its plot", async () => {
  const clashes = await page.evaluate(() => {
    const found = [];
    for (const svg of document.querySelectorAll("svg")) {
      const frame = svg.getBoundingClientRect();
      const boxes = [...svg.querySelectorAll("text")].map((text) => [text.textContent, text.getBoundingClientRect()]);
      boxes.forEach(([words, a], i) => {
        if (a.left < frame.left - 1 || a.right > frame.right + 1) found.push(`${words} is cut off`);
        for (const [other, b] of boxes.slice(i + 1)) {
          const over = Math.min(a.right, b.right) - Math.max(a.left, b.left);
          const deep = Math.min(a.bottom, b.bottom) - Math.max(a.top, b.top);
          if (over > 1 && deep > 3) found.push(`${words} over ${other}`);
        }
      });
    }
    return found;
  });
  assert.deepEqual(clashes, []);
});

test("what is plotted lies within its plot, and is a number", async () => {
  assert.equal(await page.evaluate(() => /nan|inf/i.test(document.body.innerHTML.replace(/<title>.*?<.title>/g, "")
    .match(/ (?:points|d|x1|x2|y1|y2|cx|cy)="[^"]*"/g).join())), false);
});

test("on a telephone the page does not scroll sideways", async () => {
  await page.setViewportSize(PHONE);
  assert.ok(await page.evaluate(() => document.documentElement.scrollWidth <= innerWidth));
  await page.setViewportSize({ width: 1000, height: 900 });
});

test("it meets WCAG 2.2 AA as far as axe sees", async () => assert.deepEqual(await violations(page), []));

test("pictures, to be looked at", async () => {
  const folder = process.env.FAULTODDS_SCREENSHOTS;
  if (!folder) return;
  const first = (part, heading) => page.locator(`#${part}`).locator(heading).first();
  for (const part of ["fails", "machines", "backtest", "quality"]) {
    await page.locator(`#${part}`).screenshot({ path: `${folder}/report-${part}.png` });
  }
  await first("lives", "svg").screenshot({ path: `${folder}/report-weibull.png` });
});
