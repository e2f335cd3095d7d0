// A cable between a daemon and those who listen, which is pulled: a network namespace of their own
// with one pair of interfaces. Linux, as root, with `ip` (iproute2).
import assert from "node:assert/strict";
import { execFileSync, spawn } from "node:child_process";
import { join } from "node:path";
import { performance } from "node:perf_hooks";
import { fileURLToPath } from "node:url";
import { call } from "../support/bouts.mjs";
import { bearer, Daemon, makeKey } from "../support/daemon.mjs";
import { readOpenMetrics } from "../support/openmetrics.mjs";
import { temporaryFolder } from "../support/program.mjs";
import { until, within } from "../support/wait.mjs";

const HERE = "10.217.9.1"; // RFC 1918; ours for as long as this runs
const THERE = "10.217.9.2";

export const isPossible = () => {
  try {
    return process.getuid() === 0 && Boolean(execFileSync("ip", ["-V"]));
  } catch {
    return false;
  }
};

class Cable {
  name = `boutwire-${process.pid}`;

  constructor() {
    const [here, there] = [`bwh${process.pid}`, `bwt${process.pid}`];
    this.there = there;
    this.here = here;
    const ip = (...words) => execFileSync("ip", words, { stdio: ["ignore", "ignore", "inherit"] });
    ip("netns", "add", this.name);
    ip("link", "add", here, "type", "veth", "peer", "name", there, "netns", this.name);
    ip("addr", "add", `${HERE}/24`, "dev", here);
    ip("link", "set", here, "up");
    ip("-n", this.name, "addr", "add", `${THERE}/24`, "dev", there);
    ip("-n", this.name, "link", "set", there, "up");
    this.ip = ip;
  }

  /** A page there: {said: [], closed}, whose lines are `connected` and `lost`. */
  page(daemon, audience, topic) {
    const script = fileURLToPath(new URL("remote_page.mjs", import.meta.url));
    const words = ["netns", "exec", this.name, process.execPath, script, HERE, String(daemon.port)];
    const child = spawn("ip", [...words, audience, topic], { stdio: ["ignore", "pipe", "inherit"] });
    const page = { child, said: "" };
    child.stdout.setEncoding("utf8").on("data", (text) => (page.said += text));
    return page;
  }

  /** Nobody is told: what is sent goes nowhere. */
  pull() {
    this.ip("-n", this.name, "link", "set", this.there, "down");
  }

  remove() {
    this.ip("link", "del", this.here);
    this.ip("netns", "del", this.name);
  }
}

/** Fault 11 for real: both ends notice, the daemon of every kind of listener. */
export async function assertCablePulled() {
  const store = join(temporaryFolder(), "day.sqlite");
  const { key } = await makeKey(store, "gallery");
  const table = await makeKey(store, "table");
  const cable = new Cable();
  let daemon;
  const pages = [];
  try {
    daemon = await Daemon.start({ store, host: HERE, words: ["--plain-text-network"] });
    const sent = await daemon.ask("/api/v1/events", {
      method: "POST",
      headers: { "Content-Type": "application/json", ...bearer(table.key) },
      body: JSON.stringify(call("cable")),
    });
    assert.equal(sent.status, 200, sent.body);
    const there = async () => {
      const { body } = await daemon.ask("/metrics", { headers: bearer(key) });
      const { samples } = readOpenMetrics(body).get("boutwire_connections");
      return samples.reduce((sum, { value }) => sum + value, 0);
    };
    pages.push(cable.page(daemon, "desk", "out/main"));
    pages.push(cable.page(daemon, "viewer", "mat/A/follow"));
    pages.push(cable.page(daemon, "events", "mat/A/follow"));
    await until(() => pages.every(({ said }) => said.includes("connected")), "the pages there");
    assert.equal(await there(), 3);
    const start = performance.now();
    cable.pull();
    const gone = (what) => `${what} after ${Math.round(performance.now() - start)} ms`;
    const noticed = await within(
      Promise.all([
        until(() => pages[0].said.includes("lost"), "the screen", 90000).then(() => gone("the screen")),
        until(() => pages[1].said.includes("lost"), "the viewer", 90000).then(() => gone("the viewer")),
        until(async () => (await there()) === 0, "the daemon", 90000).then(() => gone("the daemon")),
      ]),
      "all to notice",
      90000,
    );
    return noticed.join(", ");
  } finally {
    for (const { child } of pages) child.kill("SIGKILL");
    if (daemon?.isAlive()) await daemon.stop();
    cable.remove();
  }
}
