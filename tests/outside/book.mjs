// Opens job books in headless Chromium, prints them, turns the shell in them, and reads both books with other people's
// programs.
//
//     node book.mjs NODE_MODULES FOLDER ... [--chromium PATH]
//
// NODE_MODULES holds puppeteer-core and axe-core; each FOLDER holds a book.html and a book.pdf. pdftotext and pdfinfo
// (poppler-utils) read the PDF files. Exit code 1 if anything does not hold.

import { execFileSync } from "node:child_process";
import { mkdtempSync, readFileSync, rmSync, writeFileSync } from "node:fs";
import { createRequire } from "node:module";
import { tmpdir } from "node:os";
import { join, resolve } from "node:path";
import { pathToFileURL } from "node:url";

const words = process.argv.slice(2);
const option = words.indexOf("--chromium");
const chromium = option < 0 ? "/usr/bin/chromium" : words.splice(option, 2)[1];
const [modules, ...folders] = words;
if (!folders.length) throw new Error("usage: book.mjs NODE_MODULES FOLDER ... [--chromium PATH]");
const require = createRequire(join(resolve(modules), "book.mjs"));
const puppeteer = require("puppeteer-core");
const axe = readFileSync(require.resolve("axe-core/axe.min.js"), "utf8");

const place = mkdtempSync(join(tmpdir(), "books-"));
const browser = await puppeteer.launch({
  executablePath: chromium,
  // The shell is drawn without a graphics card.
  args: ["--no-sandbox", "--enable-unsafe-swiftshader", "--hide-scrollbars"],
  protocolTimeout: 120000,
});
let failed = 0;
const check = (what, wrong) => {
  const faults = [].concat(wrong).filter(Boolean);
  console.log(`${faults.length ? "FAIL" : "ok  "} ${what}${faults.length ? `: ${faults.slice(0, 4).join("; ")}` : ""}`);
  failed += faults.length ? 1 : 0;
};
// Text without what differs between a page and what is read off paper: breaks, spaces, hyphens of fonts.
const bare = (text) => text.normalize("NFKC").replace(/[\s\u00ad\u200b]/g, "").replace(/[\u2010\u2011]/g, "-").replace(/[✕✗]/g, "×");
const read = (pdf) => {
  const words = execFileSync("pdftotext", ["-raw", pdf, "-"], { maxBuffer: 1 << 28 }).toString();
  return { words, text: bare(words) };
};
const pages = (pdf) => Number(/Pages:\s+(\d+)/.exec(execFileSync("pdfinfo", [pdf]).toString())[1]);

// What the page holds that paper must hold too: every cell of every table, every heading and caption.
const content = () => {
  const texts = (query) => [...document.querySelectorAll(query)].map((e) => {
    const copy = e.cloneNode(true);
    // Names in pictures stand in another order on paper.
    copy.querySelectorAll("svg").forEach((svg) => svg.remove());
    copy.querySelectorAll("br").forEach((br) => br.replaceWith(" "));
    return copy.textContent;
  }).filter((t) => t.trim());
  return { tables: document.querySelectorAll("table").length, cells: texts("td, th"), rest: texts("h2, h3, figcaption, p:not(.kind, #turn-how), li:not(nav li), dt, dd") };
};
// Texts that paper lacks: those that are not there word by word, and words that are there fewer times than on the page.
// A word broken over two lines is found without the break.
const missing = ({ text, words }, texts) => {
  const split = (t) => t.normalize("NFKC").replace(/[\u2010\u2011]/g, "-").replace(/[✕✗]/g, "×").split(/[\s/~\u200b\u00ad]+/).filter(Boolean);
  const wanted = new Map();
  for (const word of texts.flatMap(split)) wanted.set(word, (wanted.get(word) || 0) + 1);
  const there = new Map();
  for (const word of split(words)) there.set(word, (there.get(word) || 0) + 1);
  const short = [];
  for (const [word, count] of wanted) {
    if ((there.get(word) || 0) >= count) continue;
    const broken = text.split(bare(word)).length - 1;
    if (broken < count) short.push(`"${word}" stands there ${broken} times, not ${count}`);
  }
  return short;
};

for (const folder of folders) {
  const name = folder.split("/").filter(Boolean).pop();
  const url = pathToFileURL(resolve(join(folder, "book.html"))).href;
  const page = await browser.newPage();
  await page.bringToFront();
  await page.setViewport({ width: 1000, height: 1300 });
  const complaints = [];
  const requests = [];
  page.on("console", (m) => { if (m.type() === "error") complaints.push(m.text()); });
  page.on("pageerror", (e) => complaints.push(String(e)));
  page.on("request", (r) => { if (!/^(file|data|blob):/.test(r.url())) requests.push(r.url()); });
  await page.goto(url, { waitUntil: "load" });

  // The shell.
  const pose = () => page.$eval("#turn-pose", (e) => e.textContent);
  const picture = async () => {
    // Two frames: one that asks for the drawing, one that draws.
    await page.evaluate(() => new Promise((done) => {
      requestAnimationFrame(() => requestAnimationFrame(done));
      // A machine with other work may leave the browser without a frame for long.
      setTimeout(done, 5000);
    }));
    return page.$eval("#turned", (c) => {
      const gl = c.getContext("webgl");
      const dots = new Uint8Array(4 * c.width * c.height);
      gl.readPixels(0, 0, c.width, c.height, gl.RGBA, gl.UNSIGNED_BYTE, dots);
      let hash = 0;
      let dark = 0;
      for (let i = 0; i < dots.length; i += 4) { hash = (hash * 31 + dots[i]) | 0; dark += dots[i] < 250 ? 1 : 0; }
      return { hash, share: dark / (dots.length / 4) };
    });
  };
  check(`${name}: the shell is shown, and the picture makes room`,
    (await page.$eval("#turn", (e) => e.hidden)) || !(await page.$eval("#still", (e) => e.hidden)) ? "it is not" : "");
  const canvas = await page.$("#turned");
  await canvas.scrollIntoView();
  const [first, firstPose] = [await picture(), await pose()];
  check(`${name}: something is drawn`, first.share > 0.02 && first.share < 0.98 ? "" : `${first.share} of the dots`);
  const box = await canvas.boundingBox();
  const middle = [box.x + box.width / 2, box.y + box.height / 2];
  const turned = async (how, act) => {
    const [before, beforePose] = [await picture(), await pose()];
    await act();
    const [after, afterPose] = [await picture(), await pose()];
    check(`${name}: ${how}`, before.hash === after.hash || beforePose === afterPose ? `${beforePose} stays` : "");
  };
  const reset = async (how, act) => {
    await act();
    const [after, afterPose] = [await picture(), await pose()];
    check(`${name}: ${how}`, after.hash !== first.hash || afterPose !== firstPose ? `${afterPose}, not ${firstPose}` : "");
  };
  await turned("turns by the mouse", async () => {
    await page.mouse.move(...middle);
    await page.mouse.down();
    await page.mouse.move(middle[0] + 90, middle[1] + 40, { steps: 5 });
    await page.mouse.up();
  });
  await turned("grows by the wheel", () => page.mouse.wheel({ deltaY: -240 }));
  await reset("is set back by its button", () => page.click("#turn-back"));
  const touch = await page.createCDPSession();
  const fingers = (type, ...points) => touch.send("Input.dispatchTouchEvent",
    { type, touchPoints: points.map(([x, y], id) => ({ x, y, id })) });
  await turned("turns by a finger", async () => {
    await fingers("touchStart", middle);
    for (let k = 1; k <= 5; k += 1) await fingers("touchMove", [middle[0] - 15 * k, middle[1] - 5 * k]);
    await fingers("touchEnd");
  });
  await turned("grows by two fingers", async () => {
    const two = (d) => [[middle[0] - d, middle[1]], [middle[0] + d, middle[1]]];
    await fingers("touchStart", ...two(40));
    for (let k = 1; k <= 5; k += 1) await fingers("touchMove", ...two(40 + 12 * k));
    await fingers("touchEnd");
  });
  await page.focus("#turned");
  await reset("is set back by a key", () => page.keyboard.press("0"));
  for (const key of ["ArrowLeft", "ArrowUp", "+", "-"]) await turned(`answers ${key}`, () => page.keyboard.press(key));
  check(`${name}: the focus is seen`, (await page.$eval("#turned", (e) => getComputedStyle(e).outlineStyle)) === "solid" ? "" : "no ring");
  await turned("an element can be shown alone", async () => {
    await page.select("#turn-element", "0");
    await page.keyboard.press("ArrowRight");
  });
  await page.click("#turn-back");
  if ((await page.$$eval("#turn-element option", (all) => all.length)) > 2) {
    await turned("elements move apart", async () => {
      await page.focus("#turn-apart");
      await page.keyboard.press("End");
      await page.focus("#turned");
      await page.keyboard.press("ArrowRight");
    });
    await page.click("#turn-back");
  }

  // Other people's judgement.
  await page.evaluate(axe);
  const judged = await page.evaluate(() => window.axe.run(document, { resultTypes: ["violations"] }));
  check(`${name}: axe-core has nothing serious to say`,
    judged.violations.filter((v) => ["serious", "critical"].includes(v.impact)).map((v) => `${v.id} (${v.nodes.length}): ${v.nodes[0].html.slice(0, 120)}`));

  // On paper.
  const wanted = await page.evaluate(content);
  await page.emulateMediaType("print");
  for (const [paper, width, height] of [["A4", 210, 297], ["Letter", 215.9, 279.4]]) {
    const room = width - 30;
    await page.setViewport({ width: Math.floor((room / 25.4) * 96), height: 1100 });
    const wide = await page.evaluate((mm) => {
      const most = (mm / 25.4) * 96 + 1;
      const found = [];
      for (const e of document.querySelectorAll("table, td, th, figure, svg, h1, h2, h3, p, li")) {
        const box = e.getBoundingClientRect();
        if (box.width && box.right > most) found.push(`${e.tagName} ${e.textContent.slice(0, 30)} ends at ${Math.round((box.right / 96) * 25.4)} mm`);
        if (e.scrollWidth > e.clientWidth + 2 && e.clientWidth && !e.closest("svg")) found.push(`${e.tagName} ${e.textContent.slice(0, 30)} is wider than its room`);
        if (e.tagName === "FIGURE" && box.height > (264 / 25.4) * 96) found.push(`a picture ${Math.round((box.height / 96) * 25.4)} mm high`);
      }
      return found;
    }, room);
    check(`${name}: nothing is cut off at the right on ${paper}`, wide);
    const pdf = join(place, `${name}-${paper}.pdf`);
    writeFileSync(pdf, await page.pdf({ width: `${width}mm`, height: `${height}mm`, preferCSSPageSize: false, printBackground: true }));
    const text = read(pdf);
    check(`${name}: prints on ${pages(pdf)} pages of ${paper} with every cell of ${wanted.tables} tables (${wanted.cells.length})`, missing(text, wanted.cells));
  }
  const print = await page.evaluate(() => ["turn", "still"].map((id) => getComputedStyle(document.getElementById(id)).display));
  check(`${name}: in print the picture stands`, print[0] === "none" && print[1] !== "none" ? "" : print.join(" "));
  check(`${name}: no complaint on the console`, complaints);
  check(`${name}: nothing is asked of a network`, requests);
  await page.close();

  // Without scripts.
  const plain = await browser.newPage();
  await plain.setJavaScriptEnabled(false);
  await plain.goto(url, { waitUntil: "load" });
  const shown = await plain.$$eval("#still svg, #turn", (all) => all.map((e) => e.getBoundingClientRect().height));
  check(`${name}: without scripts the picture is shown`, shown[0] > 100 && shown[1] === 0 ? "" : shown.join(" "));
  await plain.close();

  // The file made without a browser.
  const own = join(folder, "book.pdf");
  const text = read(own);
  check(`${name}: book.pdf, ${pages(own)} pages, has every cell`, missing(text, wanted.cells));
  check(`${name}: book.pdf has every heading, caption and paragraph`, missing(text, wanted.rest));
  const boxes = execFileSync("pdftotext", ["-bbox", own, "-"], { maxBuffer: 1 << 28 }).toString();
  const out = [];
  let sheet = [0, 0];
  for (const [, w, h, x0, y0, x1, y1, word] of boxes.matchAll(/<page width="([\d.]+)" height="([\d.]+)">|<word xMin="([-\d.]+)" yMin="([-\d.]+)" xMax="([-\d.]+)" yMax="([-\d.]+)">([^<]*)/g)) {
    if (w) { sheet = [Number(w), Number(h)]; continue; }
    // A printer's margin of 5 mm.
    const edge = (5 / 25.4) * 72;
    if (x0 < edge || y0 < edge || x1 > sheet[0] - edge || y1 > sheet[1] - edge) out.push(`${word} at ${x0} ${y0} ${x1} ${y1}`);
  }
  check(`${name}: no word of book.pdf is cut off`, out);
}
await browser.close();
rmSync(place, { recursive: true, force: true });
console.log(`${failed} failed`);
process.exit(failed ? 1 : 0);
