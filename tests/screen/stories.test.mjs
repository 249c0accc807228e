// The page of every state of the panel, for who fits it into another page: made here of answers that the adapter gives
// now, into FAULTODDS_SCREENSHOTS/stories.html, and looked at in a browser. It needs nothing else and opens from a file.
import assert from "node:assert/strict";
import { cpSync, mkdtempSync, readFileSync, writeFileSync } from "node:fs";
import { createRequire } from "node:module";
import { tmpdir } from "node:os";
import { join } from "node:path";
import { after, before, test } from "node:test";
import { pathToFileURL } from "node:url";
import { PAGE, PHONE, launch, troubleOf, violations } from "./browser.mjs";

const root = process.env.FAULTODDS_SOURCE, panel = process.env.FAULTODDS_PANEL, out = process.env.FAULTODDS_SCREENSHOTS;
const file = join(out, "stories.html");
let browser, states;

async function ask(path, body) {
  const response = await fetch(new URL(`../v1/${path}`, PAGE), body && {
    method: "POST", headers: { "Content-Type": "application/json" }, body: JSON.stringify({ circuit: "refuse_truck", ...body }),
  });
  assert.ok(response.ok, `${path}: ${response.status}`);
  return response.json();
}
const caseOf = (...observations) => ({ format: "faultodds-case/1", observations });
const keyOf = ({ observations }) => JSON.stringify(observations.map((entry) => entry.repaired ?? [entry.observation, entry.outcome]));

// What is seen next on a machine whose arm lift relief leaks at its seat: which of the outcomes.
const leaking = (id) => (/^static\/(arm_section\.a|arm_lift_hose\.)/.test(id) && !id.endsWith("plugged/arm_lift_relief")) ||
  id === "temperature/arm_lift_relief" ? 2 : 0;

async function makeData() {
  const answers = {};
  const assess = async (theCase) => (answers[keyOf(theCase)] ??= await ask("assess", { case: theCase }));
  const withNext = async (theCase) => {
    const answer = await assess(theCase);
    const test = answer.tests[0];
    if (answer.advice?.stop !== true && test) {
      for (const outcome of Object.keys(test.probability)) {
        await assess({ ...theCase, observations: [...theCase.observations, { observation: test.observation, outcome }] });
      }
    }
    return answer;
  };
  const cases = { complaint: caseOf(), first: caseOf({ observation: "drift/arm_cylinder/retract", outcome: "fast" }) };
  await assess(cases.complaint);
  let now = cases.first;
  let answer = await withNext(now);
  for (let made = 0; answer.advice && !answer.advice.stop && made < 12; ++made) {
    const { observation, probability } = answer.tests[0];
    now = caseOf(...now.observations, { observation, outcome: Object.keys(probability)[leaking(observation)] });
    cases.second ??= now;
    answer = await withNext(now);
  }
  assert.ok(answer.advice.stop, "testing ends");
  cases.order = now;
  cases.repaired = caseOf(...now.observations, { repaired: answer.advice.repair.components });
  await withNext(cases.repaired);
  return {
    cases, answers, model: await ask("circuits/refuse_truck/model?detail=screen"), plan: await ask("plan", { case: cases.first }),
    proposals: (await ask("propose", { text: "the arm comes down by itself", language: "en" })).proposals,
  };
}

before(async () => {
  const work = mkdtempSync(join(tmpdir(), "stories-"));
  cpSync(join(root, "tests/screen/stories"), work, { recursive: true });
  const data = await makeData();
  writeFileSync(join(work, "data.json"), JSON.stringify(data));
  const { buildSync } = createRequire(join(panel, "package.json"))("esbuild");
  const { outputFiles } = buildSync({
    entryPoints: [join(work, "stories.js")], bundle: true, write: false, format: "esm", target: "es2022", minify: true,
    alias: { "faultodds-web": join(panel, "dist/index.js") },
  });
  const script = outputFiles[0].text.replaceAll("</script", "<\\/script");
  writeFileSync(file, readFileSync(join(work, "index.html"), "utf8").replace("/*SCRIPT*/", () => script));
  states = [...readFileSync(join(work, "stories.js"), "utf8").matchAll(/^  \["([a-z-]+)", /gm)].map(([, id]) => id);
  browser = await launch();
});
after(() => browser?.close());

test("every state stands on the page, with no violation of accessibility, in the phone's width", async () => {
  const context = await browser.newContext({ viewport: PHONE, locale: "en-GB" });
  const page = await context.newPage();
  page.setDefaultTimeout(1000 * Number(process.env.FAULTODDS_PATIENCE ?? 30));
  const trouble = troubleOf(page);
  assert.ok(states.length > 15, `${states}`);
  for (const state of states) {
    await page.goto(`${pathToFileURL(file)}?story=${state}`);
    await page.locator("section[data-ready]").waitFor();
    const text = await page.evaluate(() => document.querySelector("faultodds-panel").shadowRoot.textContent);
    if (state !== "waiting" && state !== "offline-new") assert.ok(text.length > 300, `${state}: ${text}`);
    assert.deepEqual(await violations(page), [], state);
    const wide = await page.evaluate(() => document.documentElement.scrollWidth);
    assert.ok(wide <= PHONE.width, `${state} is ${wide} px wide`);
  }
  assert.deepEqual(trouble, []);
  await context.close();
});

test("a language besides English shows no English but names of units", async () => {
  const context = await browser.newContext({ viewport: PHONE });
  const page = await context.newPage();
  page.setDefaultTimeout(1000 * Number(process.env.FAULTODDS_PATIENCE ?? 30));
  for (const state of ["german", "spanish", "french", "arabic"]) {
    await page.goto(`${pathToFileURL(file)}?story=${state}`);
    await page.locator(".outcome").first().waitFor();
    await page.evaluate(() => document.querySelector("faultodds-panel").shadowRoot.querySelectorAll("details").forEach((one) => (one.open = true)));
    await page.locator(".tree").waitFor();
    const text = await page.evaluate(() => document.querySelector("faultodds-panel").shadowRoot.querySelector(".main").innerText);
    const english = text.match(/\b(the|and|with|from|before|after|which|valve|hose|cylinder|pressure|look|test|that|this|has|not|take|off)\b/gi) ?? [];
    // "test" and "le test" are French, too.
    assert.deepEqual(english.filter((word) => !(state === "french" && /^test$/i.test(word))), [], `${state}: ${text}`);
  }
  await context.close();
});
