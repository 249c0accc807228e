// What the tests in a browser share. FAULTODDS_PAGE is the page's address, FAULTODDS_SCREENSHOTS a directory for
// pictures.
import { existsSync, readFileSync } from "node:fs";
import { createRequire } from "node:module";
import { chromium } from "playwright-core";

export const PAGE = process.env.FAULTODDS_PAGE;
export const PHONE = { width: 360, height: 740 };
const AXE = readFileSync(createRequire(import.meta.url).resolve("axe-core/axe.min.js"), "utf8");

export function launch() {
  return chromium.launch({
    executablePath: ["/usr/bin/chromium", process.env.CHROMIUM].find((path) => path && existsSync(path)),
    args: ["--no-sandbox", "--disable-gpu", "--disable-quic", "--no-first-run", "--disable-background-networking",
      "--disable-component-update", "--disable-sync"],
  });
}

/** What goes wrong in the page, as it happens. */
export function troubleOf(page) {
  const trouble = [];
  page.on("pageerror", (error) => trouble.push(String(error)));
  page.on("console", (message) => {
    // What a lost connection or a refusal writes is not the page's.
    if (message.type() === "error" && !/Failed to load resource|ERR_CONNECTION/.test(message.text())) trouble.push(message.text());
  });
  return trouble;
}

export async function picture(page, name) {
  if (process.env.FAULTODDS_SCREENSHOTS) {
    await page.screenshot({ path: `${process.env.FAULTODDS_SCREENSHOTS}/${name}.png`, fullPage: true });
  }
}

export async function violations(page) {
  await page.evaluate(AXE); // not by a script element, which the page's policy forbids
  const { violations } = await page.evaluate(() => axe.run(document, { runOnly: ["wcag2a", "wcag2aa", "wcag21a", "wcag21aa", "wcag22aa", "best-practice"] }));
  return violations.map(({ id, nodes }) => `${id}: ${nodes.map(({ target, failureSummary }) => `${target} ${failureSummary}`).join(" | ")}`);
}

/** The page's case where the adapter stores it. */
export const stored = new URL("../v1/cases/2231", PAGE);

/** Removes it, so that the next test begins with an empty one. The page before may have had a write on its way. */
export async function removeStored() {
  for (let absent = 0; absent < 2; ) {
    const response = await fetch(stored);
    if (response.ok) await fetch(stored, { method: "DELETE", headers: { "If-Match": response.headers.get("ETag") } });
    absent = response.ok ? 0 : absent + 1;
    await new Promise((resolve) => setTimeout(resolve, 200));
  }
}
