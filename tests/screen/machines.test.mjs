// The drawings of the eight machines (tests/authoring/machines) as a browser shows them: no text on a text, no line through a
// text, and each as its stored picture, tests/screen/pictures/machines. FAULTODDS_CIRCUIT is the command, FAULTODDS_SOURCE
// the project; FAULTODDS_RENEW_PICTURES=1 stores what is drawn now, to be looked at before it is committed.
import assert from "node:assert/strict";
import { execFileSync } from "node:child_process";
import { existsSync, mkdirSync, readFileSync, readdirSync, writeFileSync } from "node:fs";
import { join } from "node:path";
import { after, before, test } from "node:test";
import { launch } from "./browser.mjs";

const SOURCE = process.env.FAULTODDS_SOURCE, COMMAND = process.env.FAULTODDS_CIRCUIT;
const PAGES = join(SOURCE, "tests/authoring/machines"), STORED = join(SOURCE, "tests/screen/pictures/machines");
const MACHINES = readdirSync(PAGES).filter((name) => existsSync(join(PAGES, name, "expectation.md"))).sort();
// Of the points of ink of either picture, blurred a little; fonts of another version differ by less.
const MOST_DIFFERENT = 0.02;

let browser, page;

before(async () => {
  browser = await launch();
  page = await (await browser.newContext({ viewport: { width: 1000, height: 800 } })).newPage();
});
after(() => browser.close());

function circuit(machine) {
  const own = join(PAGES, machine, "circuit.json");
  return existsSync(own) ? own : join(SOURCE, "examples", machine, "circuit.json");
}

function drawn(machine, ...more) {
  return execFileSync(COMMAND, ["draw", circuit(machine), ...more], { encoding: "utf8" });
}

async function show(svg) {
  await page.setContent(`<!doctype html><body style="margin:0;background:#fff">${svg}</body>`);
}

/** What lies on what, by the boxes that the browser gives it. */
function lying() {
  const box = (element) => element.getBoundingClientRect();
  const meet = (a, b, by) => a.left < b.right - by && b.left < a.right - by && a.top < b.bottom - by && b.top < a.bottom - by;
  const texts = [...document.querySelectorAll("svg text")].filter((text) => text.textContent.trim());
  const lines = [...document.querySelectorAll("svg path.line")];
  const found = [];
  texts.forEach((text, i) => {
    // Letters are lower than the box of their line.
    const whole = box(text), letters = { left: whole.left, right: whole.right, top: whole.top + 0.2 * whole.height, bottom: whole.bottom - 0.2 * whole.height };
    for (const other of texts.slice(i + 1)) {
      const of = box(other);
      if (meet(letters, { left: of.left, right: of.right, top: of.top + 0.2 * of.height, bottom: of.bottom - 0.2 * of.height }, 0.5)) {
        found.push(`"${text.textContent}" lies on "${other.textContent}"`);
      }
    }
    for (const line of lines) {
      if (meet(letters, box(line), 0)) found.push(`a line crosses "${text.textContent}"`);
    }
    if (whole.right > box(text.ownerSVGElement).right + 0.5) found.push(`"${text.textContent}" is cut off`);
  });
  return { found, texts: texts.length, lines: lines.length };
}

/** Share of the points of ink by which two pictures differ, each blurred; 1 where their sizes do. */
function difference([one, other]) {
  const blurred = async (data) => {
    const image = new Image();
    image.src = `data:image/png;base64,${data}`;
    await image.decode();
    const canvas = new OffscreenCanvas(image.width, image.height), context = canvas.getContext("2d");
    context.filter = "blur(1px)";
    context.drawImage(image, 0, 0);
    return context.getImageData(0, 0, image.width, image.height);
  };
  return Promise.all([blurred(one), blurred(other)]).then(([a, b]) => {
    if (a.width !== b.width || a.height !== b.height) return 1;
    let ink = 0, differ = 0;
    for (let i = 0; i < a.data.length; i += 4) {
      const [p, q] = [a.data[i] + a.data[i + 1] + a.data[i + 2], b.data[i] + b.data[i + 1] + b.data[i + 2]];
      ink += Math.min(p, q) < 700;
      differ += Math.abs(p - q) > 90;
    }
    return differ / Math.max(ink, 1);
  });
}

async function photograph() {
  return (await page.locator("svg").first().screenshot()).toString("base64");
}

test("there are eight", () => assert.equal(MACHINES.length, 8));

for (const machine of MACHINES) {
  test(`${machine}: no text lies on a text and no line crosses one`, async () => {
    await show(drawn(machine));
    const { found, texts, lines } = await page.evaluate(lying);
    assert.deepEqual(found, []);
    assert.ok(texts > 20 && lines > 20, `${texts} texts, ${lines} lines`);
  });

  test(`${machine} is drawn as it was when it was looked at`, async () => {
    await show(drawn(machine));
    const path = join(STORED, `${machine}.png`), now = await photograph();
    if (process.env.FAULTODDS_RENEW_PICTURES) {
      mkdirSync(STORED, { recursive: true });
      writeFileSync(path, Buffer.from(now, "base64"));
    }
    const differs = await page.evaluate(difference, [now, readFileSync(path).toString("base64")]);
    assert.ok(differs < MOST_DIFFERENT, `${(100 * differs).toFixed(2)} % differ`);
  });
}

test("what differs is seen: a part that stands elsewhere, a text that lies on another, a line through one", async () => {
  await show(drawn("lift_table"));
  const before = await photograph();
  await page.evaluate(() => document.querySelectorAll("svg [data-part]")[3].setAttribute("transform", "translate(30 0)"));
  assert.ok((await page.evaluate(difference, [before, await photograph()])) > MOST_DIFFERENT);
  const texts = await page.evaluate(() => {
    const [one, other] = document.querySelectorAll("svg text.label");
    one.setAttribute("x", other.getAttribute("x"));
    one.setAttribute("y", other.getAttribute("y"));
    return [one.textContent, other.textContent];
  });
  const { found } = await page.evaluate(lying);
  assert.ok(found.includes(`"${texts[0]}" lies on "${texts[1]}"`), found.join("\n"));
  await show(drawn("lift_table"));
  await page.evaluate(() => {
    const text = document.querySelector("svg text.label"), line = document.querySelector("svg path.line");
    const [x, y] = [Number(text.getAttribute("x")), Number(text.getAttribute("y"))];
    line.setAttribute("d", `M${x - 5} ${y - 3}L${x + 20} ${y - 3}`);
  });
  assert.match((await page.evaluate(lying)).found.join(), /a line crosses/);
});

test("the way of a leak is drawn upright and level, like lines, and on no symbol aslant", async () => {
  let ways = 0;
  for (const machine of MACHINES) {
    const doc = JSON.parse(readFileSync(circuit(machine), "utf8"));
    for (const { actuator, direction } of doc.functions) {
      const entered = { format: "faultodds-case/1", circuit: doc.id,
        observations: [{ observation: `drift/${actuator}/${direction}`, outcome: "slow" }] };
      const file = join(process.env.FAULTODDS_SCREENSHOTS ?? "/tmp", "machines-case.json");
      writeFileSync(file, JSON.stringify(entered));
      let svg;
      try {
        svg = execFileSync(COMMAND, ["draw", circuit(machine), "--case", file], { encoding: "utf8", stdio: ["ignore", "pipe", "ignore"] });
      } catch {
        continue; // it does not drift that way
      }
      for (const [, d] of svg.matchAll(/<path class="leak"[^>]* d="([^"]+)"/g)) {
        ways += 1;
        let at;
        for (const [, letter, rest] of d.matchAll(/([MLHVv])([^MLHVv]+)/g)) {
          const numbers = rest.trim().split(" ").map(Number);
          if (letter === "L") assert.ok(numbers[0] === at[0] || numbers[1] === at[1], `${machine} ${d}`);
          at = letter === "H" ? [numbers[0], at[1]] : letter === "V" ? [at[0], numbers[0]] : letter === "v" ? [at[0], at[1] + numbers[0]] : numbers;
        }
      }
    }
  }
  assert.ok(ways > 20, `${ways}`);
});
