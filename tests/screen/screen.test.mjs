// The work-order page in headless Chromium, as a technician uses it.
import assert from "node:assert/strict";
import { after, afterEach, before, beforeEach, test } from "node:test";
import { PAGE, PHONE, launch, picture as pictureOf, troubleOf, violations as violationsOf } from "./browser.mjs";

let browser, context, page, trouble;

before(async () => {
  browser = await launch();
});
after(() => browser.close());

beforeEach(() => open());
afterEach(async () => {
  await context.close();
  assert.deepEqual(trouble, []);
});

// Without its service worker, which would answer in place of what a test says of the network.
async function open(options = {}, script = "") {
  await context?.close();
  context = await browser.newContext({ viewport: PHONE, locale: "en-GB", serviceWorkers: "block", ...options });
  await context.addInitScript(script);
  // A store of cases for this test alone.
  let revision = 0;
  await context.route("**/v1/cases/*", (route) =>
    route.request().method() === "PUT"
      ? route.fulfill({ json: {}, headers: { ETag: `"${++revision}"` } })
      : route.fulfill({ status: 404, json: { code: "unknown_case" } }));
  page = await context.newPage();
  page.setDefaultTimeout(10_000);
  trouble = troubleOf(page);
  await page.goto(PAGE);
  await page.getByRole("heading", { name: "Next tests" }).waitFor();
}

const ready = () => page.getByRole("status").filter({ hasText: "up to date" }).waitFor();
const cards = () => page.locator(".tests > li");
const hold = () => card("static/arm_section.a"); // among the first tests of a sinking arm
const card = (observation) => page.locator(`details[data-observation="${observation}"]`);

async function complain(symptom = "Arm sinks with the lever released", outcome = "fast") {
  await page.getByLabel("Symptom").selectOption({ label: symptom });
  await page.getByRole("radio", { name: outcome }).check();
  await page.getByRole("button", { name: "Enter symptom" }).click();
  await page.getByRole("button", { name: /^Take back/ }).first().waitFor();
  await ready();
}

const picture = (name) => pictureOf(page, name);
const violations = () => violationsOf(page);

test("a work order is completed from the complaint to the order and the repair", async () => {
  await complain();
  await hold().locator("summary").first().click();
  await picture("phone-open-test");
  await hold().getByRole("radio", { name: "would not build" }).check();
  await hold().getByRole("button", { name: "Enter result" }).click();
  await page.getByRole("button", { name: /^Take back/ }).nth(1).waitFor();
  await ready();

  // A reading of another test, in American units, written with a comma.
  await page.getByRole("button", { name: /Show \d+ more/ }).click();
  const plugged = card("static/arm_section.a/plugged/arm_lift_relief");
  await plugged.locator("summary").first().click();
  await plugged.getByText("Enter a reading instead").click();
  await plugged.getByLabel("Measured").selectOption("leak_rate");
  await plugged.getByLabel("Leak rate", { exact: true }).fill("0,5");
  await plugged.getByLabel("Unit of Leak rate").selectOption("mL/min");
  await plugged.getByLabel("Pressure", { exact: true }).fill("2400");
  await plugged.getByLabel("Unit of Pressure").selectOption("psi");
  await plugged.getByRole("button", { name: "Enter result" }).click();
  await page.getByText("Leak rate 0.5 mL/min, Pressure 2400 psi").waitFor();
  await ready();

  const first = page.locator("#suspects-heading ~ table tbody tr").first();
  assert.match(await first.textContent(), /arm lift port relief: seat leaks/i);
  await page.getByRole("button", { name: "Put these parts on the order" }).click();
  assert.match(await page.locator("#parts").textContent(), /arm_lift_relief/);
  await picture("phone-order");
  await page.getByRole("button", { name: "These parts have been replaced" }).click();
  await page.getByText(/^Replaced: /).waitFor();
  await ready();
});

test("the cautions stand before the tests and cannot be put away until a test is made", async () => {
  await complain();
  const cautions = page.getByRole("region", { name: "Cautions" });
  const texts = cautions.getByRole("listitem");
  assert.equal(await texts.count(), 6);
  assert.equal(await cautions.getByRole("button").count(), 0);
  assert.equal(await cautions.locator("summary").count(), 0);
  const above = await cautions.evaluate((section) =>
    Boolean(section.compareDocumentPosition(section.getRootNode().querySelector("#tests-heading")) & Node.DOCUMENT_POSITION_FOLLOWING));
  assert.ok(above);

  await hold().locator("summary").first().click();
  const particular = hold().locator(".caution");
  await particular.getByRole("listitem").first().waitFor();
  const before = await particular.evaluate((box) =>
    Boolean(box.compareDocumentPosition(box.closest(".body").querySelector("form")) & Node.DOCUMENT_POSITION_FOLLOWING));
  assert.ok(before);

  await hold().getByRole("radio", { name: "held" }).check();
  await hold().getByRole("button", { name: "Enter result" }).click();
  await cautions.locator("summary").waitFor();
  assert.ok(await texts.first().isVisible());
  await cautions.locator("summary").click();
  assert.ok(!(await texts.first().isVisible()));
});

test("an open test says why, what each outcome would tell, what to do before, and what to bring", async () => {
  await complain();
  await hold().locator("summary").first().click();
  const body = hold().locator(".body");
  await body.getByText(/^would not build, \d+ %: .+ \d+ %/).waitFor();
  for (const heading of ["Why this test", "What each outcome would tell", "Before it", "Test pressure", "Bring", "Result"]) {
    await body.getByRole("heading", { name: heading, exact: true }).waitFor();
  }
  assert.match(await hold().locator(".facts").textContent(), /\d+ min/);
});

test("a step that is ticked costs the next ranking nothing", async () => {
  await complain();
  await hold().locator("summary").first().click();
  await hold().getByRole("checkbox").first().check();
  const done = await page.evaluate(() => document.querySelector("faultodds-panel").case.setup_done);
  assert.deepEqual(done, ["lockout"]);
});

test("what is incomplete or no number is told at the field, and nothing is entered", async () => {
  await complain();
  await hold().locator("summary").first().click();
  const body = hold().locator(".body");
  await body.getByRole("button", { name: "Enter result" }).click();
  await body.getByText("Choose an outcome or fill in a reading.").waitFor();
  await body.getByText("Enter a reading instead").click();
  await body.getByLabel("Pressure drop", { exact: true }).fill("a few");
  await body.getByRole("button", { name: "Enter result" }).click();
  await body.getByText("“a few” is no number").waitFor();
  assert.equal(await body.getByLabel("Pressure drop", { exact: true }).getAttribute("aria-invalid"), "true");
  assert.equal((await page.evaluate(() => document.querySelector("faultodds-panel").case.observations)).length, 1);
});

test("what the library refuses is told where it was entered, and taken back", async () => {
  await complain();
  await hold().locator("summary").first().click();
  const body = hold().locator(".body");
  await body.getByText("Enter a reading instead").click();
  await body.getByLabel("Measured").selectOption("supply_flow");
  await body.getByLabel("Flow", { exact: true }).fill("5");
  await body.getByLabel("Pressure", { exact: true }).fill("0");
  await body.getByRole("button", { name: "Enter result" }).click();
  await body.getByText(/^This was not taken: .*pressure/i).waitFor();
  assert.equal((await page.evaluate(() => document.querySelector("faultodds-panel").case.observations)).length, 1);
});

test("of two entries made in one breath the one that is refused is taken back, the other stays", async () => {
  await complain();
  await page.route("**/v1/assess", async (route) => {
    await new Promise((resolve) => setTimeout(resolve, 1500)); // a slow connection
    await route.continue().catch(() => {}); // the page is gone
  });
  await hold().locator("summary").first().click();
  const body = hold().locator(".body");
  await body.getByText("Enter a reading instead").click();
  await body.getByLabel("Measured").selectOption("supply_flow");
  await body.getByLabel("Flow", { exact: true }).fill("5");
  await body.getByLabel("Pressure", { exact: true }).fill("0");
  await body.getByRole("button", { name: "Enter result" }).click();
  await card("look/arm_cylinder").locator("summary").first().click();
  await card("look/arm_cylinder").getByRole("radio", { name: "dry" }).check();
  await card("look/arm_cylinder").getByRole("button", { name: "Enter result" }).click();
  await page.getByRole("button", { name: /^Take back: Look for oil/ }).waitFor();
  await ready();
  const entries = await page.evaluate(() => document.querySelector("faultodds-panel").case.observations);
  assert.deepEqual(entries.map(({ observation }) => observation), ["drift/arm_cylinder/retract", "look/arm_cylinder"]);
});

test("an entry is taken back and the ranking follows", async () => {
  await complain();
  await page.getByRole("button", { name: /^Take back/ }).click();
  await page.getByText("Nothing has been entered yet.").waitFor();
  await ready();
  assert.deepEqual(await page.evaluate(() => document.querySelector("faultodds-panel").assessment.complaint), []);
});

test("where the device cannot compute, entries are kept without a connection, also over a reload, and ranked later", async () => {
  await open({}, "globalThis.Worker = undefined");
  await complain();
  await page.route("**/v1/**", (route) => route.abort());
  await hold().locator("summary").first().click();
  await page.getByText("Without a connection only the probabilities can be shown.").waitFor();
  await hold().getByRole("radio", { name: "would not build" }).check();
  await hold().getByRole("button", { name: "Enter result" }).click();
  await page.getByText(/^No connection\. What you enter is kept; the ranking is the one from/).waitFor();
  assert.equal(await page.getByRole("button", { name: /^Take back/ }).count(), 2);
  await picture("phone-offline");

  await page.reload(); // the page comes from a cache or the network; the answers do not
  await page.getByText(/^No connection/).waitFor();
  assert.equal(await page.getByRole("button", { name: /^Take back/ }).count(), 2);

  await page.unroute("**/v1/**");
  await page.getByRole("button", { name: "Try again" }).click();
  await ready();
  assert.equal((await page.evaluate(() => document.querySelector("faultodds-panel").case.observations)).length, 2);
});

test("everything is reached and done by keyboard alone", async () => {
  const press = async (key, times = 1) => {
    for (let i = 0; i < times; ++i) await page.keyboard.press(key);
  };
  const focused = () => page.evaluate(() => {
    let at = document.activeElement;
    while (at?.shadowRoot?.activeElement) at = at.shadowRoot.activeElement;
    return `${at.tagName} ${at.id || at.textContent.trim().slice(0, 30)}`;
  });
  await page.locator("#print").focus();
  await press("Tab");
  assert.match(await focused(), /^SELECT symptom/);
  await page.keyboard.type("Arm s");
  await press("Tab");
  await press("ArrowDown", 2);
  await press("Tab", 2); // past the reading
  await press("Enter");
  await page.getByRole("button", { name: /^Take back/ }).waitFor();
  await ready();
  assert.match(await focused(), /tests-heading|seen-heading/);
  for (let i = 0; i < 20 && !(await focused()).startsWith("SUMMARY Pressure hold"); ++i) await press("Tab");
  assert.match(await focused(), /^SUMMARY Pressure hold/);
  await press("Enter");
  await hold().getByRole("button", { name: "Enter result" }).waitFor();
});

test("nothing is wider than 360 px and every target is at least 44 px high", async () => {
  await complain();
  await hold().locator("summary").first().click();
  await hold().getByText("Enter a reading instead").click();
  await picture("phone");
  const wide = await page.evaluate(() => document.documentElement.scrollWidth);
  assert.ok(wide <= 360, `the page is ${wide} px wide`);
  const small = await page.evaluate(() =>
    [...document.querySelector("faultodds-panel").shadowRoot.querySelectorAll("button, select, summary, input[inputmode], label.choice")]
      .map((target) => ({ text: target.textContent.trim().slice(0, 40) || target.id, box: target.getBoundingClientRect() }))
      .filter(({ box }) => box.height > 0 && (box.height < 44 || box.width < 44 || box.right > 360.5))
      .map(({ text, box }) => `${text} ${box.width} x ${box.height}`));
  assert.deepEqual(small, []);
});

test("axe finds nothing, before and after the complaint, with a test open, with an error, and in print", async () => {
  assert.deepEqual(await violations(), []);
  await complain();
  assert.deepEqual(await violations(), []);
  await hold().locator("summary").first().click();
  await hold().getByText("Enter a reading instead").click();
  await hold().getByRole("button", { name: "Enter result" }).click();
  assert.deepEqual(await violations(), []);
  await page.emulateMedia({ media: "print" });
  assert.deepEqual(await violations(), []);
});

for (const [language, heading, caution] of [["de", "Nächste Prüfungen", "Öl unter Druck"], ["es", "Próximas pruebas", "El aceite a presión"]]) {
  test(`speaks ${language}, the cautions too, and says which words are still English`, async () => {
    await complain();
    await page.locator("#language").selectOption(language);
    await page.getByRole("heading", { name: heading }).waitFor();
    assert.ok(await page.getByText(caution).isVisible());
    assert.equal(await hold().locator("h3").getAttribute("lang"), "en");
    await hold().locator("summary").first().click();
    await picture(`phone-${language}`);
    const wide = await page.evaluate(() => document.documentElement.scrollWidth);
    assert.ok(wide <= 360, `the page is ${wide} px wide`);
    assert.deepEqual(await violations(), []);
  });
}

test("on paper every shown test has its cautions, and there is nothing to press", async () => {
  await complain();
  await page.emulateMedia({ media: "print" });
  await page.locator(".tests .body .caution").nth(2).waitFor();
  const shown = await page.evaluate(() => {
    const root = document.querySelector("faultodds-panel").shadowRoot;
    const visible = (element) => element.getClientRects().length > 0;
    return {
      cautions: [...root.querySelectorAll(".tests .caution")].filter(visible).length,
      controls: [...root.querySelectorAll("button, input, select")].filter(visible).map((control) => control.outerHTML),
    };
  });
  assert.ok(shown.cautions >= 3, `${shown.cautions} cautions`);
  assert.deepEqual(shown.controls, []);
  await picture("print");
  await page.emulateMedia({ media: "screen" });
  await page.waitForFunction(() => !document.querySelector("faultodds-panel").shadowRoot.querySelector(".tests details[open]"));
});

test("takes its colours from the page's custom properties", async () => {
  await page.evaluate(() => document.documentElement.style.setProperty("--faultodds-caution", "rgb(85, 0, 68)"));
  const colour = await page.evaluate(() =>
    getComputedStyle(document.querySelector("faultodds-panel").shadowRoot.querySelector(".caution")).borderLeftColor);
  assert.equal(colour, "rgb(85, 0, 68)");
});

test("shows markup in documents as text", async () => {
  await page.evaluate(async () => {
    const panel = document.createElement("faultodds-panel");
    panel.id = "other";
    const wicked = "<img src=x onerror=alert(1)>";
    panel.assessor = {
      model: async () => ({ title: wicked, components: [{ id: "c", title: wicked }], modes: [], cautions: [wicked],
        observations: [{ observation: "o", title: wicked, kind: "test", symptom: true, outcomes: [wicked, "b"], setup: [] }] }),
      assess: async () => ({ complaint: [], tests: [], warnings: [wicked], cautions: [wicked],
        faults: [{ mode: "c.m", component: "c", title: wicked, grades: [0.5, 0.3, 0.2], posterior_odds: 1 }] }),
    };
    document.querySelector("main").append(panel);
  });
  await page.locator("#other").getByText("<img src=x onerror=alert(1)>").first().waitFor();
  assert.equal(await page.evaluate(() => document.querySelector("#other").shadowRoot.querySelectorAll("img").length), 0);
});

test("on a wide screen it looks as on a phone, only wider", async () => {
  await open({ viewport: { width: 1200, height: 900 } });
  await complain();
  await hold().locator("summary").first().click();
  await hold().getByText(/^would not build, \d+ %: .+ \d+ %/).waitFor();
  await picture("desk");
  assert.deepEqual(await violations(), []);
});
