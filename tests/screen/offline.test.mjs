// The work-order page without a connection: it opens, this device computes, and what was entered is stored when the
// connection is back. Between page and adapter stands a gate that can be shut.
import assert from "node:assert/strict";
import { readFileSync } from "node:fs";
import http from "node:http";
import { after, afterEach, before, beforeEach, test } from "node:test";
import { agree } from "./agree.mjs";
import { PAGE, PHONE, launch, picture, removeStored, stored, troubleOf, violations } from "./browser.mjs";

const { pathname, hostname, port } = new URL(PAGE);
const sockets = new Set();
const gate = http.createServer((request, response) => {
  const onward = http.request({ hostname, port, path: request.url, method: request.method, headers: request.headers },
    (answer) => {
      response.writeHead(answer.statusCode, answer.headers);
      answer.pipe(response);
    });
  onward.on("error", () => response.destroy());
  request.pipe(onward);
});
gate.on("connection", (socket) => {
  sockets.add(socket);
  socket.on("close", () => sockets.delete(socket));
});
let gatePort = 0;
const openGate = () => new Promise((resolve) => gate.listen(gatePort, "127.0.0.1", () => {
  gatePort = gate.address().port;
  resolve();
}));
const shutGate = () => new Promise((resolve) => {
  gate.close(resolve);
  for (const socket of sockets) socket.destroy();
});

let browser, context, page, trouble;

before(async () => {
  browser = await launch();
  await openGate();
});
after(async () => {
  await browser.close();
  await shutGate();
});
beforeEach(async () => {
  await removeStored();
  if (!gate.listening) await openGate();
  context = await browser.newContext({ viewport: PHONE, locale: "en-GB" });
  page = await context.newPage();
  page.setDefaultTimeout(30_000);
  trouble = troubleOf(page);
  await page.goto(`http://127.0.0.1:${gatePort}${pathname}`);
  await page.getByText("Computed by the server. It can be worked on without a connection.").waitFor();
  await page.evaluate(() => navigator.serviceWorker.ready);
  await page.waitForFunction(() => navigator.serviceWorker.controller);
});
afterEach(async () => {
  await context.close();
  assert.deepEqual(trouble, []);
});

const ready = () => page.getByRole("status").filter({ hasText: /up to date|Testing can stop/i }).first().waitFor();
const onDevice = () => page.getByText(/^Computed on this device/).waitFor();
const byServer = () => page.getByText(/^Computed by the server/).waitFor();
const entries = () => page.evaluate(() => document.querySelector("faultodds-panel").case.observations);

async function complain(outcome = "fast") {
  await page.getByLabel("In your own words").fill("arm sinks fast");
  await page.getByRole("button", { name: `Arm sinks with the lever released: ${outcome}` }).first().click();
  await page.getByRole("region", { name: "Next step" }).waitFor();
  await ready();
}

/** Makes a test the next step, whatever is advised. */
async function take(observation) {
  await page.evaluate((wanted) => document.querySelector("faultodds-panel").job.makeNext(wanted), observation);
  await page.waitForFunction((wanted) => document.querySelector("faultodds-panel").assessment.tests[0].observation === wanted, observation);
}

async function enter(observation, outcome) {
  await take(observation);
  await page.locator(`[data-outcome="${outcome}"]`).click();
  await page.waitForFunction((made) => document.querySelector("faultodds-panel").case.observations.some(({ observation }) => observation === made), observation);
  await ready();
}

async function storedCase() {
  const response = await fetch(stored);
  return { etag: response.headers.get("ETag"), ...(await response.json()) };
}

test("a work order is worked on from the complaint to the order without a connection, and stored when it is back", async () => {
  await shutGate();
  await page.reload();
  await onDevice();
  await complain();
  await take("static/arm_section.a");
  await page.locator(".outcome").filter({ hasText: /then most likely|testing can stop/ }).first().waitFor(); // meanings too
  await picture(page, "offline-step");
  await enter("static/arm_section.a", "would_not_build");
  await enter("static/arm_section.a/plugged/arm_lift_relief", "held");
  assert.match(await page.locator(".likely li").first().textContent(), /arm lift port relief/i);
  // What is advised until nothing is, as a relief that leaks shows it.
  const shows = { static: "held", look: "dry", temperature: "normal", delivery: "normal", flow: "normal", drift: "slow" };
  const advised = () => page.evaluate(() => document.querySelector("faultodds-panel").assessment.advice.test);
  let made = 3;
  for (let test = await advised(); test && made < 9; test = await advised()) {
    await page.getByRole("region", { name: "Next step" }).locator(`[data-outcome="${shows[test.split("/")[0]]}"]`).click();
    made += 1;
    await page.waitForFunction((n) => document.querySelector("faultodds-panel").case.observations.length === n, made);
    await ready();
  }
  await page.getByRole("button", { name: "Put these parts on the order" }).click();
  assert.match(await page.locator("#parts").textContent(), /arm_lift_relief/);
  await onDevice();
  await page.getByText(/^.*Not stored yet/).waitFor();
  await picture(page, "offline-order");
  assert.deepEqual(await violations(page), []);
  const here = await page.evaluate(() => document.querySelector("faultodds-panel").assessment);

  await openGate();
  await page.getByRole("button", { name: "Try again" }).click();
  await byServer();
  await page.getByText("Not stored yet").waitFor({ state: "detached" });
  assert.deepEqual((await storedCase()).case.observations, await entries());
  assert.equal((await entries()).length, made);
  const there = await page.evaluate(() => document.querySelector("faultodds-panel").assessment);
  assert.deepEqual(there.tests.map(({ observation }) => observation), here.tests.map(({ observation }) => observation));
  for (const [i, fault] of there.faults.entries()) {
    fault.grades.forEach((p, grade) => assert.ok(Math.abs(p - here.faults[i].grades[grade]) < 1e-9, fault.mode));
  }
});

test("a form that is being filled in stays when the connection comes back", async () => {
  await shutGate();
  await complain();
  await onDevice();
  await take("static/arm_section.a");
  const body = page.getByRole("region", { name: "Next step" });
  await body.getByText("Saw something else", { exact: true }).click();
  await body.getByLabel("Pressure drop", { exact: true }).fill("12");
  await openGate();
  await page.evaluate(() => window.dispatchEvent(new Event("online")));
  await byServer();
  assert.equal(await body.getByLabel("Pressure drop", { exact: true }).inputValue(), "12");
});

test("what the library refuses on this device is told where it was entered, and taken back", async () => {
  await shutGate();
  await complain();
  await take("static/arm_section.a");
  const body = page.getByRole("region", { name: "Next step" });
  await body.getByText("Saw something else", { exact: true }).click();
  await body.getByLabel("Measured").selectOption("supply_flow");
  await body.getByLabel("Flow", { exact: true }).fill("5");
  await body.getByLabel("Pressure", { exact: true }).fill("0");
  await body.getByRole("button", { name: "Enter result" }).click();
  await body.getByText(/^This was not taken: .*pressure/i).waitFor();
  assert.equal((await entries()).length, 1);
});

test("what another entered meanwhile counts too, and where both observed the same it is asked which is right", async () => {
  await complain();
  await page.waitForFunction(async (address) => (await fetch(address)).ok, `${new URL(stored).pathname}`);
  await shutGate();
  await enter("static/arm_section.a", "would_not_build");
  await onDevice();

  const { etag, circuit, case: other } = await storedCase();
  other.observations.push(
    { observation: "static/arm_section.a", outcome: "held", at: "2024-03-05T09:00:00Z" },
    { observation: "look/arm_cylinder", outcome: "dry", at: "2024-03-05T09:10:00Z" });
  const put = await fetch(stored, {
    method: "PUT", headers: { "Content-Type": "application/json", "If-Match": etag }, body: JSON.stringify({ circuit, case: other }),
  });
  assert.equal(put.status, 200);

  await openGate();
  await page.getByRole("button", { name: "Try again" }).click();
  const elsewhere = page.getByRole("region", { name: "Entered elsewhere meanwhile" });
  await elsewhere.getByText(/Look for oil.*: dry/).waitFor();
  await picture(page, "offline-conflict");
  assert.deepEqual(await violations(page), []);
  assert.equal((await storedCase()).case.observations.length, 4); // nothing is lost before anybody chose
  await elsewhere.getByRole("button", { name: "Take back “held”, entered elsewhere" }).click();
  await elsewhere.waitFor({ state: "detached" });
  await ready();
  await page.waitForFunction(async (address) => (await (await fetch(address)).json()).case.observations.length === 3,
    new URL(stored).pathname);
  assert.deepEqual((await storedCase()).case.observations.map(({ observation, outcome }) => `${observation} ${outcome}`).sort(),
    ["drift/arm_cylinder/retract fast", "look/arm_cylinder dry", "static/arm_section.a would_not_build"]);
});

for (const [language, told] of [["de", "Auf diesem Gerät berechnet"], ["es", "Calculado en este dispositivo"]]) {
  test(`says in ${language} who computed, in 360 px`, async () => {
    await shutGate();
    await complain();
    await page.locator("#language").selectOption(language);
    await page.getByText(told).waitFor();
    await picture(page, `offline-${language}`);
    assert.ok((await page.evaluate(() => document.documentElement.scrollWidth)) <= 360);
    assert.deepEqual(await violations(page), []);
  });
}

test("in the browser the library answers the vectors of all bindings, on the page and in a worker", async () => {
  const root = process.env.FAULTODDS_SOURCE;
  const read = (path) => JSON.parse(readFileSync(`${root}/${path}`, "utf8"));
  const { vectors } = read("tests/vectors/assessments.json");
  const asked = vectors.map(({ name, circuit, case: theCase }) => ({ name, circuit: read(circuit), case: theCase }));
  const answers = await page.evaluate(async (asked) => {
    const { loadFaultodds } = await import(new URL("faultodds-wasm/index.js", location.href).href);
    const faultodds = await loadFaultodds();
    const worker = new Worker(new URL("faultodds-wasm/worker.js", location.href), { type: "module" });
    const ask = (question) => new Promise((resolve) => {
      worker.onmessage = ({ data }) => resolve(data);
      worker.postMessage({ id: 1, ...question });
    });
    const answers = [];
    for (const { circuit, case: theCase } of asked) {
      let answer = null, refusal = null;
      try {
        answer = faultodds.assess(circuit, theCase);
      } catch ({ code, pointer, message }) {
        refusal = { code, pointer, message };
      }
      await ask({ ask: "open", circuit });
      answers.push({ answer, refusal, worker: await ask({ ask: "assess", case: theCase }) });
    }
    return answers;
  }, asked);
  // The page asks within the library's budget of memory, the worker within a larger one, in which advice may be exact that is
  // estimated in the other.
  for (const [i, { answer, refusal, worker }] of answers.entries()) {
    const { name, expected, refusal: refused } = vectors[i];
    if (refused) {
      assert.equal(refusal.code, refused.code, name);
      assert.equal(refusal.pointer, `/case${refused.pointer}`, name);
      assert.equal(worker.refusal.pointer, refused.pointer, name);
      continue;
    }
    const estimated = [worker.answer, answer].some(({ advice }) => advice?.error > 0);
    const compared = ({ advice, ...rest }) => (estimated ? rest : { advice, ...rest });
    assert.deepEqual(compared(worker.answer), compared(answer), name);
    agree(expected, answer, name);
  }
  assert.ok(answers.length > 15);
});
