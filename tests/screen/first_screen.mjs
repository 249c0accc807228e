// Prints when the first useful screen stands, on a processor slowed four times: from the navigation until the complaint
// can be typed, then from the complaint until the next step stands. Medians of five. The time by the clock needs a
// machine that does nothing else; beside it stands four times the processor's time of the page's thread, which does
// not. FAULTODDS_PAGE as for the tests.
import { PAGE, PHONE, launch } from "./browser.mjs";

const SLOWED = 4;
const median = (list) => [...list].sort((a, b) => a - b)[Math.floor(list.length / 2)];
const browser = await launch();
const first = { clock: [], processor: [] }, step = { clock: [], processor: [] };

/** Of the page's thread since the navigation, ms. */
async function processor(tools) {
  const { metrics } = await tools.send("Performance.getMetrics");
  return 1000 * metrics.find(({ name }) => name === "TaskDuration").value;
}

for (let run = 0; run < 5; ++run) {
  for (const rate of [SLOWED, 1]) {
    const context = await browser.newContext({ viewport: PHONE, locale: "en-GB", serviceWorkers: "block" });
    await context.route("**/v1/cases/*", (route) => route.fulfill({ status: 404, json: { code: "unknown_case" } }));
    const page = await context.newPage();
    page.setDefaultTimeout(1000 * Number(process.env.FAULTODDS_PATIENCE ?? 30));
    const tools = await context.newCDPSession(page);
    // Throttling sleeps in between, which the thread's own time does not count.
    await tools.send("Performance.enable", { timeDomain: "threadTicks" });
    await tools.send("Emulation.setCPUThrottlingRate", { rate });
    await page.goto(PAGE);
    await page.locator("#complaint-words").waitFor();
    if (rate === SLOWED) first.clock.push(await page.evaluate(() => performance.now()));
    else first.processor.push(SLOWED * (await processor(tools)));
    await page.locator("#complaint-words").fill("arm sinks fast");
    const choose = page.getByRole("button", { name: "Arm sinks with the lever released: fast" }).first();
    await choose.waitFor();
    const [since, used] = [await page.evaluate(() => performance.now()), await processor(tools)];
    await choose.click();
    await page.locator(".outcome").first().waitFor();
    if (rate === SLOWED) step.clock.push((await page.evaluate(() => performance.now())) - since);
    else step.processor.push(SLOWED * ((await processor(tools)) - used));
    await context.close();
  }
}
await browser.close();
for (const [name, of] of [["first useful screen", first], ["next step", step]]) {
  console.log(`${name.padEnd(21)}${Math.round(median(of.clock))} ms by the clock, ${Math.round(median(of.processor))} ms of processor`);
}
