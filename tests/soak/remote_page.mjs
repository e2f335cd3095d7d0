// A page's line in a process of its own, for cable.mjs: HOST PORT AUDIENCE TOPIC. Says `connected`
// and `lost`. AUDIENCE is desk, viewer, or events: an event stream, which doesn't notice by itself.
import { get } from "node:http";
import { pageLine } from "./peers.mjs";

const [host, port, audience, topic] = process.argv.slice(2);
if (audience === "events") {
  get({ host, port, path: `/sse/${topic}` }, (answer) => {
    answer.once("data", () => console.log("connected"));
    answer.resume();
  }).on("error", () => {});
} else {
  const line = pageLine({ host, port }, audience);
  let was = false;
  line.addEventListener("change", () => {
    if (line.connected !== was) console.log(line.connected ? "connected" : "lost");
    was = line.connected;
  });
  line.watch(topic);
}
