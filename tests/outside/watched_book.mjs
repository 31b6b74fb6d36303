// Opens the job book of a watched work in headless Chromium, and saves the script under its eyes.
//
//     node --experimental-websocket watched_book.mjs RIBWRIGHT SCRIPT [CHROMIUM]
//
// The book must load itself again after a save and stand where it was scrolled to, show the error of a broken save above
// everything, and take it away after it is mended; it must ask for nothing but files, and say nothing on the console.
// Exit code 1 otherwise. (Node 22 and later need no option.)

import { spawn } from "node:child_process";
import { mkdtempSync, readFileSync, rmSync, writeFileSync } from "node:fs";
import { tmpdir } from "node:os";
import { join, resolve } from "node:path";

const [ribwright, script, chromium = "chromium"] = process.argv.slice(2);
if (!script) throw new Error("usage: watched_book.mjs RIBWRIGHT SCRIPT [CHROMIUM]");
const place = mkdtempSync(join(tmpdir(), "watched-"));
const work = join(place, "work.rhai");
const text = readFileSync(script, "utf8");
writeFileSync(work, text);
const sleep = (ms) => new Promise((done) => setTimeout(done, ms));
const until = async (what, holds, seconds = 90) => {
  for (let k = 0; k < seconds * 10; k += 1) {
    const value = await holds();
    if (value) return value;
    await sleep(100);
  }
  throw new Error(`waited in vain for ${what}`);
};

const watch = spawn(resolve(ribwright), ["watch", work]);
let said = "";
watch.stdout.on("data", (data) => { said += data; });
const makes = () => said.split("\nwatching ").length - 1;
const browser = spawn(chromium, ["--headless=new", "--no-sandbox", "--remote-debugging-port=0",
  `--user-data-dir=${join(place, "profile")}`, "about:blank"]);
let told = "";
browser.stderr.on("data", (data) => { told += data; });
let failed = 0;
const check = (what, holds) => {
  console.log(`${holds ? "ok  " : "FAIL"} ${what}`);
  failed += holds ? 0 : 1;
};

try {
  await until("the first make", () => makes() >= 1);
  const port = await until("the browser", () => /ws:\/\/127\.0\.0\.1:(\d+)\//.exec(told)?.[1]);
  const page = (await (await fetch(`http://127.0.0.1:${port}/json/list`)).json()).find((t) => t.type === "page");
  const socket = new WebSocket(page.webSocketDebuggerUrl);
  await new Promise((done) => { socket.onopen = done; });
  let number = 0;
  const waiting = new Map();
  const requests = new Set();
  const complaints = [];
  let loads = 0;
  socket.onmessage = ({ data }) => {
    const message = JSON.parse(data);
    if (message.id) waiting.get(message.id)?.(message.result ?? message.error);
    if (message.method === "Network.requestWillBeSent") requests.add(message.params.request.url.split(":")[0]);
    if (message.method === "Page.loadEventFired") loads += 1;
    if (message.method === "Runtime.exceptionThrown") complaints.push(JSON.stringify(message.params));
    if (message.method === "Log.entryAdded" && message.params.entry.level === "error") {
      complaints.push(message.params.entry.text);
    }
  };
  const send = (method, params = {}) => new Promise((done) => {
    number += 1;
    waiting.set(number, done);
    socket.send(JSON.stringify({ id: number, method, params }));
  });
  const ask = async (expression) => (await send("Runtime.evaluate", { expression, returnByValue: true })).result?.value;
  for (const domain of ["Page", "Network", "Runtime", "Log"]) await send(`${domain}.enable`);
  await send("Page.navigate", { url: `file://${join(place, "out", "book.html")}` });
  await until("the book", () => loads >= 1);
  await ask("window.scrollTo(0, 1500)");
  await sleep(1500);
  check("the book does not load itself again without a save", loads === 1);

  const phase = /phase: (\d+)/.exec(text);
  const changed = text.replace(phase[0], `phase: ${Number(phase[1]) + 10}`);
  writeFileSync(work, changed);
  await until("the book to load itself again", () => loads >= 2).then(
    () => check("the book loads itself again after a save", true),
    () => check("the book loads itself again after a save", false));
  await sleep(500);
  const top = await ask("Math.round(window.scrollY)");
  check(`it stands where it was scrolled to (1500, is at ${top})`, Math.abs(top - 1500) <= 2);

  writeFileSync(work, changed.replace("sculpture(", "sculptur("));
  const shown = "(() => { const b = document.getElementById('watch-error'); return b && !b.hidden ? b.textContent : ''; })()";
  const error = await until("the error", () => ask(shown)).catch(() => "");
  check("a broken save shows its error in the book", error.includes("sculptur") && error.includes("last save"));
  check("the book of the last good save stays", (await ask("document.title")).includes("job book") && loads === 2);
  writeFileSync(work, changed);
  await until("the error to go", async () => (await ask(shown)) === "").then(
    () => check("a mended save takes it away", true), () => check("a mended save takes it away", false));
  check(`nothing but files is asked for (${[...requests].join(", ")})`, [...requests].every((s) => s === "file" || s === "data"));
  check(`nothing on the console ${complaints.join("; ")}`, complaints.length === 0);
  socket.close();
} finally {
  watch.kill();
  browser.kill();
  await sleep(500);
  rmSync(place, { recursive: true, force: true });
}
process.exit(failed === 0 ? 0 : 1);
