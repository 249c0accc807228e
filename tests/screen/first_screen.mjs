// Prints when the first useful screen stands, on a processor slowed four times: from the navigation until the complaint
// can be typed, then from the complaint until the next step stands. Medians of five. FAULTODDS_PAGE as for the tests.
import { PAGE, PHONE, launch } from "./browser.mjs";

const median = (list) => [...list].sort((a, b) => a - b)[Math.floor(list.length / 2)];
const browser = await launch();
const first = [], step = [];
for (let run = 0; run < 5; ++run) {
  const context = await browser.newContext({ viewport: PHONE, locale: "en-GB", serviceWorkers: "block" });
  await context.route("**/v1/cases/*", (route) => route.fulfill({ status: 404, json: { code: "unknown_case" } }));
  const page = await context.newPage();
  page.setDefaultTimeout(1000 * Number(process.env.FAULTODDS_PATIENCE ?? 30));
  await (await context.newCDPSession(page)).send("Emulation.setCPUThrottlingRate", { rate: 4 });
  await page.goto(PAGE);
  await page.locator("#complaint-words").waitFor();
  first.push(await page.evaluate(() => performance.now()));
  await page.locator("#complaint-words").fill("arm sinks fast");
  const choose = page.getByRole("button", { name: "Arm sinks with the lever released: fast" }).first();
  await choose.waitFor();
  const since = await page.evaluate(() => performance.now());
  await choose.click();
  await page.locator(".outcome").first().waitFor();
  step.push((await page.evaluate(() => performance.now())) - since);
  await context.close();
}
await browser.close();
console.log(`first useful screen  ${Math.round(median(first))} ms\nnext step            ${Math.round(median(step))} ms`);
