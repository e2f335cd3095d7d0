// Measures a running daemon from outside: from an event sent to its acknowledgement, to the frame that
// a WebSocket client gets, and to changed text in Chromium. Prints figures, judges nothing.
import { mkdtempSync, rmSync } from "node:fs";
import { spawn } from "node:child_process";
import { tmpdir } from "node:os";
import { dirname, join } from "node:path";
import { fileURLToPath } from "node:url";
import WebSocket from "ws";
import { chromium } from "playwright-core";

const root = join(dirname(fileURLToPath(import.meta.url)), "..", "..");
const EVENTS = 400, BOUT_EVENTS = 100;

const ms = () => Number(process.hrtime.bigint()) / 1e6;
const quantile = (sorted, part) => sorted[Math.min(sorted.length - 1, Math.floor(sorted.length * part))];

function print(what, figures) {
  const sorted = [...figures].sort((a, b) => a - b);
  console.log(`${what.padEnd(44)} median ${quantile(sorted, 0.5).toFixed(2)} ms   p99 ${quantile(sorted, 0.99).toFixed(2)} ms`);
}

async function daemon(folder) {
  const child = spawn(join(root, "build/boutwire"), ["serve", "--listen", "127.0.0.1:0", "--event-rate", "0", "--store", join(folder, "bench.sqlite")],
    { stdio: ["ignore", "pipe", "inherit"] });
  const address = await new Promise((resolve, reject) => {
    let text = "";
    child.stdout.on("data", (piece) => {
      text += piece;
      const found = /http:\/\/(127\.0\.0\.1:\d+)\//.exec(text);
      if (found) resolve(found[1]);
    });
    child.on("exit", () => reject(new Error("the daemon ended")));
  });
  return { child, address };
}

function post(address, event) {
  return fetch(`http://${address}/api/v1/events`, {
    method: "POST", headers: { "content-type": "application/json" }, body: JSON.stringify(event),
  });
}

const call = (bout) => ({ id: bout, type: "bout", bout, mat: "A", call: true, rules: "freestyle-2022",
  red: { name: "Benchmark Red" }, blue: { name: "Benchmark Blue" } });
const score = (bout, id) => ({ id, type: "score", bout, side: "red", points: 1, action: "step_out", unconfirmed: true });
const undo = (bout, id, ref) => ({ id, type: "void", bout, ref });

/** Scores, each taken out again, in bouts of the usual size: 100 events, the demo day's mean being 75.
 *  `began` is told of each bout's first event, which isn't measured. */
async function* events(name, began) {
  for (let i = 0; i < EVENTS; i += 2) {
    const bout = `${name}-bout-${Math.floor(i / BOUT_EVENTS)}`;
    if (i % BOUT_EVENTS === 0) await began(call(bout));
    yield score(bout, `${name}-${i}`);
    yield undo(bout, `${name}-${i + 1}`, `${name}-${i}`);
  }
}

async function socket(address) {
  const ws = new WebSocket(`ws://${address}/ws`, "boutwire.v1");
  await new Promise((resolve) => ws.once("open", resolve));
  return ws;
}

/** The next message that `wanted` accepts. */
function message(ws, wanted) {
  return new Promise((resolve) => {
    const look = (data) => {
      const object = JSON.parse(data);
      if (!wanted(object)) return;
      ws.off("message", look);
      resolve(object);
    };
    ws.on("message", look);
  });
}

async function acknowledged(address) {
  const ws = await socket(address);
  const figures = [];
  for await (const event of events("ack", (bout) => post(address, bout))) {
    const answer = message(ws, (object) => object.ack?.id === event.id);
    const start = ms();
    ws.send(JSON.stringify({ event }));
    await answer;
    figures.push(ms() - start);
  }
  ws.close();
  print("event over WebSocket to its acknowledgement", figures);
}

async function pushed(address) {
  const ws = await socket(address);
  const first = message(ws, (object) => object.state);
  ws.send(JSON.stringify({ subscribe: [{ topic: "out/main" }] }));
  await first;
  const figures = [], answered = [];
  for await (const event of events("push", (bout) => post(address, bout))) {
    const patch = message(ws, (object) => object.patch).then(ms);
    const start = ms();
    const answer = post(address, event).then(ms);
    figures.push((await patch) - start);
    answered.push((await answer) - start);
  }
  ws.close();
  print("POST to its answer", answered);
  print("POST to the frame pushed to a screen", figures);
}

async function shown(address) {
  const browser = await chromium.launch({
    executablePath: "/usr/bin/chromium",
    args: ["--no-sandbox", "--disable-gpu", "--disable-quic", "--no-first-run", "--disable-background-networking",
      "--disable-component-update", "--disable-sync"],
  });
  const page = await browser.newPage();
  await page.goto(`http://${address}/booth/?mat=A`);
  await page.waitForFunction(() => document.body.textContent.includes("Benchmark"));
  const figures = [];
  for await (const event of events("show", (bout) => post(address, bout))) {
    // Counted on the page itself, from the moment of sending, so that the browser's own driver adds nothing.
    figures.push(await page.evaluate(async (sent) => {
      const before = document.body.innerText;
      const start = performance.now();
      const changed = new Promise((resolve) => {
        const observer = new MutationObserver(() => {
          if (document.body.innerText === before) return;
          observer.disconnect();
          resolve(performance.now() - start);
        });
        observer.observe(document.body, { subtree: true, childList: true, characterData: true });
      });
      fetch("/api/v1/events", { method: "POST", headers: { "content-type": "application/json" }, body: sent });
      return changed;
    }, JSON.stringify(event)));
  }
  await browser.close();
  print("POST to text changed in Chromium", figures);
}

const folder = mkdtempSync(join(tmpdir(), "boutwire-bench-"));
const { child, address } = await daemon(folder);
try {
  await post(address, call("bench"));
  await acknowledged(address);
  await pushed(address);
  await shown(address);
} finally {
  child.removeAllListeners("exit");
  child.kill();
  await new Promise((resolve) => child.once("exit", resolve));
  rmSync(folder, { recursive: true });
}
