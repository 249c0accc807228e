// One work order in two tabs, or on two devices, that both enter something without a connection: both entries are there
// afterwards, whichever comes back first and whatever is closed meanwhile. And names that objects know of themselves.
import assert from "node:assert/strict";
import { after, afterEach, before, beforeEach, test } from "node:test";
import { PAGE, PHONE, launch, removeStored, stored, troubleOf } from "./browser.mjs";

let browser, contexts, trouble;

before(async () => { browser = await launch(); });
after(() => browser.close());
beforeEach(async () => {
  await removeStored();
  contexts = [];
  trouble = [];
});
afterEach(async () => {
  for (const context of contexts) await context.close();
  assert.deepEqual(trouble.flat(), []);
});

// A device: its tabs share what the browser stores. Without the service worker, whose requests cannot be cut.
async function device() {
  const context = await browser.newContext({ viewport: PHONE, locale: "en-GB", serviceWorkers: "block" });
  contexts.push(context);
  return context;
}

async function tab(context) {
  const page = await context.newPage();
  page.setDefaultTimeout(30_000);
  trouble.push(troubleOf(page));
  await page.goto(PAGE);
  await page.locator('[data-keep^="symptom-"]').first().waitFor({ state: "attached" });
  return page;
}

const cut = (page) => page.route("**/v1/**", (route) => route.abort());
async function back(page) {
  await page.unroute("**/v1/**");
  await page.evaluate(() => window.dispatchEvent(new Event("online")));
}

/** Enters the first result of the symptom at `place` of the list, and gives the observation. */
async function enter(page, place) {
  const symptom = page.locator('[data-keep^="symptom-"]').nth(place - 1);
  if (!(await symptom.isVisible())) await page.locator('[data-keep="another"] > summary').click();
  const observation = (await symptom.getAttribute("data-keep")).slice("symptom-".length);
  await symptom.locator("summary").click();
  await symptom.getByRole("button").first().click();
  await page.waitForFunction((wanted) => document.querySelector("faultodds-panel").case.observations
    .some(({ observation }) => observation === wanted), observation);
  return observation;
}

const names = (entries) => entries.map(({ observation }) => observation).sort();
const entered = async (page) => names(await page.evaluate(() => document.querySelector("faultodds-panel").case.observations));
async function storedNames() {
  const response = await fetch(stored);
  return response.ok ? names((await response.json()).case.observations) : [];
}
async function eventually(what, wanted) {
  let found;
  for (let tenths = 0; tenths < 200; ++tenths) {
    found = await what();
    if (JSON.stringify(found) === JSON.stringify(wanted)) return;
    await new Promise((resolve) => setTimeout(resolve, 100));
  }
  assert.deepEqual(found, wanted);
}

for (const [where, sharing] of [["in two tabs", true], ["on two devices", false]]) {
  for (const first of [0, 1]) {
    test(`what was entered ${where} without a connection is all there when the ${["first", "second"][first]} is back first`, async () => {
      const one = await device();
      const pages = [await tab(one), await tab(sharing ? one : await device())];
      for (const page of pages) await cut(page);
      const wanted = [await enter(pages[0], 1), await enter(pages[1], 2)].sort();
      await back(pages[first]);
      await eventually(async () => (await storedNames()).length > 0, true);
      await back(pages[1 - first]);
      await eventually(storedNames, wanted);
      for (const page of pages) if (sharing || page === pages[1 - first]) await eventually(() => entered(page), wanted);
      await pages[first].reload();
      await eventually(() => entered(pages[first]), wanted);
    });
  }
}

test("what was entered in two tabs is all there when both were closed before the connection was back", async () => {
  const context = await device();
  const pages = [await tab(context), await tab(context)];
  for (const page of pages) await cut(page);
  // At once, so that neither knows of the other's.
  const wanted = (await Promise.all([enter(pages[0], 1), enter(pages[1], 2)])).sort();
  for (const page of pages) await page.close();
  const page = await tab(context);
  await eventually(() => entered(page), wanted);
  await eventually(storedNames, wanted);
  const kept = await page.evaluate(() => Object.keys(localStorage).filter((key) => key.startsWith("faultodds/")).length);
  assert.equal(kept, 1, "what the closed tabs kept was taken over");
});

test("what is entered or taken back in one tab is so in the other, without a connection too", async () => {
  const context = await device();
  const pages = [await tab(context), await tab(context)];
  for (const page of pages) await cut(page);
  const observation = await enter(pages[0], 1);
  await eventually(() => entered(pages[1]), [observation]);
  await pages[1].getByRole("button", { name: /^Take back/ }).first().click();
  await eventually(() => entered(pages[0]), []);
  await pages[0].close();
  await pages[1].reload();
  assert.deepEqual(await entered(pages[1]), []);
});

test("a form that is being filled in stays when another tab enters something", async () => {
  const context = await device();
  const pages = [await tab(context), await tab(context)];
  await pages[1].getByLabel("In your own words").fill("tailgate");
  const observation = await enter(pages[0], 1);
  await eventually(() => entered(pages[1]), [observation]);
  await eventually(storedNames, [observation]);
  assert.equal(await pages[1].locator("#complaint-words").inputValue(), "tailgate");
});

test("outcomes, components and members named as what objects know of themselves are shown and kept as text", async () => {
  const page = await tab(await device());
  const words = ["__proto__", "constructor", "toString", "hasOwnProperty"];
  const shown = await page.evaluate(async (words) => {
    const panel = document.createElement("faultodds-panel");
    const observation = (id) => ({ observation: id, title: id, kind: "look", symptom: true, outcomes: words, setup: [] });
    const model = {
      title: "t", components: words.map((id) => ({ id, title: "" })), modes: [], cautions: words, observations: words.map(observation),
    };
    const probability = JSON.parse(`{${words.map((word) => `"${word}": 0.25`).join()}}`);
    const test = {
      ...observation("next"), probability, complaint_bits: 1, minutes: 1, setup: [], test_pressure: null, bring: [], energised: false,
      cautions: words, because: "", suspects: [],
    };
    const faults = words.map((component) => ({
      mode: component, component, title: "x", grades: [0.5, 0.25, 0.25], posterior_odds: 1 }));
    panel.assessor = { model: async () => model, assess: async () => ({ complaint: words, causes: [], faults, tests: [test], warnings: [], cautions: words }) };
    panel.case = JSON.parse(`{"format": "faultodds-case/1", "id": "__proto__", "circuit": "constructor", "__proto__": {"n": 1},
      "observations": [${words.map((word) => `{"observation": "${word}", "outcome": "${word}"}`).join()}]}`);
    panel.setAttribute("keep", "");
    document.body.append(panel);
    const assessed = new Promise((resolve) => panel.addEventListener("faultodds-assessment", resolve, { once: true }));
    await assessed;
    for (const details of panel.shadowRoot.querySelectorAll("details")) details.open = true;
    await new Promise((resolve) => setTimeout(resolve, 200));
    const text = panel.shadowRoot.textContent;
    const kept = JSON.stringify(panel.case);
    panel.remove();
    return { text, kept };
  }, words);
  assert.doesNotMatch(shown.text, /native code|\[object|undefined/);
  for (const word of ["  proto  ", "constructor", "toString", "hasOwnProperty"]) assert.ok(shown.text.includes(word), word);
  assert.match(shown.kept, /"__proto__":\{"n":1\}/);
});
