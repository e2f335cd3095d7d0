// A service manager's side of sd_notify(3): a datagram socket that is listened to by a program of
// the tests' own, since Node has no such sockets.
import { spawn } from "node:child_process";
import { compiled } from "./compiled.mjs";
import { Growing } from "./wait.mjs";

export class NotifySocket {
  heard = new Growing(); // each message: {READY: "1", …}

  /** @param {string} name a path, or "@" and an abstract name */
  static async open(name) {
    const ear = new NotifySocket();
    ear.name = name;
    ear.child = spawn(compiled("tests/daemon/shims/notify_socket.c"), [name], {
      stdio: ["ignore", "pipe", "inherit"],
    });
    let text = "";
    ear.child.stdout.setEncoding("utf8").on("data", (piece) => {
      text += piece;
      const lines = text.split("\n");
      text = lines.pop();
      for (const line of lines) ear.heard.add(messageOf(line));
    });
    ear.child.on("close", () => ear.heard.end("the notify socket closed"));
    await ear.heard.find((message) => "listening" in message, "the notify socket");
    return ear;
  }

  /** The first message with that variable, from place `from` on. */
  async find(variable, from = 0) {
    const { item, place } = await this.heard.find((one) => variable in one, variable, from);
    return { ...item, place };
  }

  has(variable) {
    return this.heard.items.some((message) => variable in message);
  }

  close() {
    this.child.kill("SIGKILL");
  }
}

const messageOf = (line) =>
  Object.fromEntries(
    line.split("|").map((one) => {
      const at = one.indexOf("=");
      return at < 0 ? [one, ""] : [one.slice(0, at), one.slice(at + 1)];
    }),
  );
