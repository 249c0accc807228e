// The drawing of what the case concerns, in the panel on a phone and at a desk.
import assert from "node:assert/strict";
import { after, before, test } from "node:test";
import { PAGE, PHONE, launch, picture, troubleOf, violations } from "./browser.mjs";

let browser;

before(async () => {
  browser = await launch();
});
after(() => browser.close());

for (const [name, viewport] of [["phone", PHONE], ["desk", { width: 1200, height: 900 }]]) {
  test(`on a ${name} it stands behind the cautions, is drawn when it is opened, fits, and says what is suspected`, async () => {
    const context = await browser.newContext({ viewport, locale: "en-GB", serviceWorkers: "block" });
    await context.route("**/v1/cases/*", (route) =>
      route.request().method() === "PUT"
        ? route.fulfill({ json: {}, headers: { ETag: '"1"' } })
        : route.fulfill({ status: 404, json: { code: "unknown_case" } }));
    const page = await context.newPage();
    page.setDefaultTimeout(1000 * Number(process.env.FAULTODDS_PATIENCE ?? 30));
    const trouble = troubleOf(page);
    await page.goto(PAGE);
    await page.getByLabel("In your own words").fill("arm sinks between houses");
    await page.locator(".found button").filter({ hasText: "Arm sinks" }).first().click();
    const step = page.getByRole("region", { name: "Next step" });
    await step.waitFor();
    const asked = [];
    page.on("request", (request) => request.url().endsWith("/v1/drawing") && asked.push(request.postDataJSON()));
    assert.equal(await step.locator(".circuit").count(), 0);
    await step.locator("details[data-keep=drawing] > summary").click();
    await step.locator(".circuit").waitFor();
    assert.equal(asked.length, 1);
    assert.ok(asked[0].width <= viewport.width);
    const shown = await page.evaluate(() => {
      const root = document.querySelector("faultodds-panel").shadowRoot;
      const [drawing, caution] = [root.querySelector(".circuit"), root.querySelector(".caution")];
      const box = drawing.getBoundingClientRect();
      const suspect = root.querySelector(".suspect");
      return {
        right: box.right, wide: document.documentElement.scrollWidth, behind: caution.compareDocumentPosition(drawing) & 4,
        parts: [...root.querySelectorAll("[data-part] .label")].map((text) => text.textContent).join(" "),
        marked: root.querySelector(".mark")?.getAttribute("data-port"), shade: getComputedStyle(suspect).fill,
        test: document.querySelector("faultodds-panel").assessment.tests[0].observation,
      };
    });
    assert.ok(shown.behind);
    assert.ok(shown.right <= viewport.width && shown.wide <= viewport.width, JSON.stringify(shown));
    assert.match(shown.parts, /arm lift port relief/);
    assert.match(shown.parts, /\d+ %/);
    assert.equal(shown.shade, "rgb(221, 51, 51)");
    if (shown.test.startsWith("static/")) assert.equal(shown.marked, shown.test.split("/")[1]);
    await picture(page, `${name}-drawing`);
    assert.deepEqual(await violations(page), []);
    assert.deepEqual(trouble, []);
    await context.close();
  });
}

test("markup in titles is drawn as text, and what is no part of a drawing is left out", async () => {
  const context = await browser.newContext({ viewport: PHONE, locale: "en-GB", serviceWorkers: "block" });
  const page = await context.newPage();
  await page.goto(PAGE);
  await page.route("**/v1/drawing", (route) => route.fulfill({
    contentType: "image/svg+xml",
    body: '<svg xmlns="http://www.w3.org/2000/svg" class="circuit" onload="window.bad = 1"><script>window.bad = 2</script>' +
      '<style>.circuit{background:url(http://127.0.0.1:1/x)}</style><text onclick="window.bad = 3">&lt;b&gt;</text>' +
      '<foreignObject><p xmlns="http://www.w3.org/1999/xhtml">no</p></foreignObject></svg>',
  }));
  await page.getByLabel("In your own words").fill("arm sinks between houses");
  await page.locator(".found button").filter({ hasText: "Arm sinks" }).first().click();
  await page.locator("details[data-keep=drawing] > summary").click();
  const drawn = page.locator(".circuit");
  await drawn.waitFor({ state: "attached" });
  assert.equal(await drawn.evaluate((svg) => svg.outerHTML),
    '<svg class="circuit" part="drawing"><text>&lt;b&gt;</text></svg>');
  assert.equal(await page.evaluate(() => window.bad), undefined);
  await context.close();
});
