// A real nginx in front of a daemon, as docs/operating.md prints it: only the ports and the
// certificate's place are put in. It runs as whoever runs the tests, with all its files in a
// temporary folder, and reaches nothing but the daemon.
import { spawn } from "node:child_process";
import { existsSync, mkdirSync, readFileSync, writeFileSync } from "node:fs";
import { request } from "node:https";
import { connect, createServer } from "node:net";
import { join } from "node:path";
import WebSocket from "ws";
import { makeCertificate } from "./certificate.mjs";
import { root, temporaryFolder } from "./program.mjs";
import { Growing, until, within } from "./wait.mjs";

export const HOST = "hall.example"; // nobody is asked for it: every client here is told where it is
const nginx = ["/usr/sbin/nginx", join(root, "build/nginx/usr/sbin/nginx")].find(existsSync);
const alive = new Set();
process.on("exit", () => {
  for (const child of alive) child.kill("SIGKILL");
});

/** What stands between ```nginx and ``` in docs/operating.md. */
function printedSite() {
  const text = readFileSync(join(root, "docs/operating.md"), "utf8");
  return /^```nginx\n(.*?)^```$/ms.exec(text)[1];
}

/** Replaces what must be there, once. */
function put(text, from, to) {
  if (text.split(from).length !== 2) throw new Error(`docs/operating.md: once is wanted: ${from}`);
  return text.replace(from, to);
}

function freePort() {
  const server = createServer();
  return new Promise((resolve, reject) => {
    server.on("error", reject);
    server.listen(0, "127.0.0.1", () => {
      const { port } = server.address();
      server.close(() => resolve(port));
    });
  });
}

const answers = (port) =>
  new Promise((resolve) => {
    const socket = connect(port, "127.0.0.1");
    socket.on("error", () => resolve(false));
    socket.on("connect", () => resolve(socket.destroy()));
  });

export class Nginx {
  /** A port for one, before anything listens there: a daemon wants to know its public address. */
  static async reserve() {
    const front = new Nginx();
    front.port = await freePort();
    front.folder = temporaryFolder();
    front.origin = `https://${HOST}:${front.port}`;
    return front;
  }

  /** Starts it before that daemon. `change` may do something to the printed site. */
  async start(daemon_port, change = (site) => site) {
    const { certificate, key, pem } = makeCertificate(this.folder, HOST);
    let site = printedSite();
    site = put(site, "listen 443 ssl;", `listen 127.0.0.1:${this.port} ssl;`);
    site = put(site, "/etc/ssl/hall.example.crt", certificate);
    site = put(site, "/etc/ssl/hall.example.key", key);
    site = put(site, "http://127.0.0.1:7600/;", `http://127.0.0.1:${daemon_port}/;`);
    writeFileSync(join(this.folder, "site.conf"), change(site));
    const kinds = ["client_body", "proxy", "fastcgi", "uwsgi", "scgi"];
    for (const kind of kinds) mkdirSync(join(this.folder, kind));
    const paths = kinds.map((kind) => `${kind}_temp_path ${join(this.folder, kind)};`).join(" ");
    const user = process.getuid() === 0 ? "user root;" : "";
    writeFileSync(
      join(this.folder, "nginx.conf"),
      `${user} daemon off; worker_processes 1; pid ${join(this.folder, "pid")}; error_log stderr;
events { worker_connections 512; }
http { access_log off; ${paths} include ${join(this.folder, "site.conf")}; }\n`,
    );
    this.child = spawn(nginx, ["-p", this.folder, "-e", "stderr", "-c", join(this.folder, "nginx.conf")], {
      stdio: ["ignore", "ignore", "pipe"],
    });
    alive.add(this.child);
    this.errors = "";
    this.child.stderr.setEncoding("utf8").on("data", (text) => (this.errors += text));
    this.ended = new Promise((resolve) => this.child.on("close", (code) => resolve(code)));
    this.ended.then(() => alive.delete(this.child));
    this.ca = pem;
    await until(async () => {
      if (this.child.exitCode !== null) throw new Error(`nginx ended: ${this.errors}`);
      return answers(this.port);
    }, "nginx to listen");
  }

  async stop() {
    this.child.kill("SIGTERM");
    await within(this.ended, "nginx to end");
  }

  url(path = "/hall/") {
    return `${this.origin}${path}`;
  }

  #where(from) {
    return { host: "127.0.0.1", port: this.port, servername: HOST, ca: this.ca, agent: false, localAddress: from };
  }

  /** One request: {status, headers, body}; with `open`, its body as it grows: {status, headers, pieces, close}. */
  ask(path, { method = "GET", headers = {}, body, from, open = false } = {}) {
    const sizes = body === undefined ? {} : { "Content-Length": Buffer.byteLength(body) };
    const all = { Host: `${HOST}:${this.port}`, ...sizes, ...headers };
    return within(
      new Promise((resolve, reject) => {
        const sent = request({ ...this.#where(from), path, method, headers: all }, (answer) => {
          const { statusCode: status } = answer;
          const pieces = new Growing();
          let text = "";
          answer.setEncoding("utf8").on("data", (piece) => pieces.add((text += piece)));
          answer.on("error", () => pieces.end("the stream broke"));
          answer.on("end", () => {
            pieces.end("the stream ended");
            resolve({ status, headers: answer.headers, body: text });
          });
          if (open && status === 200)
            resolve({ status, headers: answer.headers, pieces, close: () => sent.destroy() });
        });
        sent.on("error", reject);
        sent.end(body);
      }),
      `${method} ${path}`,
    );
  }

  /** A WebSocket of a page of that origin: {socket, heard, say}; or {status} when it is refused. */
  socket({ origin = this.origin, from, headers = {}, path = "/hall/ws" } = {}) {
    const heard = new Growing();
    const socket = new WebSocket(`wss://127.0.0.1:${this.port}${path}`, "boutwire.v1", {
      ...this.#where(from),
      origin,
      headers: { Host: `${HOST}:${this.port}`, ...headers },
    });
    socket.on("message", (text) => heard.add(JSON.parse(text)));
    socket.on("close", (code, reason) => heard.end(`closed ${code} ${reason}`));
    return within(
      new Promise((resolve, reject) => {
        socket.on("open", () => resolve({ socket, heard, say: (message) => socket.send(JSON.stringify(message)) }));
        socket.on("unexpected-response", (sent, answer) => {
          sent.destroy();
          resolve({ status: answer.statusCode });
        });
        socket.on("error", reject);
      }),
      "a WebSocket through nginx",
    );
  }
}
