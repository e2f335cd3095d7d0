// A real daemon: started on a port of its own with a store in a folder of its own, spoken to over
// HTTP, stopped or killed. Every stop looks at the exit code and at what the sanitizers say.
import assert from "node:assert/strict";
import { spawn } from "node:child_process";
import { request } from "node:http";
import { join } from "node:path";
import { environment, ndjson, program, root, rows, run, temporaryFolder } from "./program.mjs";
import { within } from "./wait.mjs";

const alive = new Set();
process.on("exit", () => {
  for (const child of alive) child.kill("SIGKILL");
});

export class Daemon {
  #out = "";
  #errors = "";

  /** Starts one, and answers when it has printed its addresses.
   *  @param {{store: string, host?: string, port?: number, listen?: string[], command?: string,
   *   words?: string[],
   *   env?: object, wrapper?: string[]}} options  `wrapper`: a command that becomes the daemon */
  static async start(options) {
    const daemon = new Daemon(options);
    await within(daemon.#listening, () => `the daemon's address: ${daemon.errors}`);
    return daemon;
  }

  /** Starts one that must end by itself: {code, errors}. */
  static async startInVain(options) {
    const daemon = new Daemon(options);
    daemon.#listening.catch(() => {});
    const { code } = await within(daemon.ended, () => `the end of a daemon: ${daemon.#out}`);
    return { code, errors: daemon.errors, out: daemon.#out };
  }

  /** Starts one, and answers without waiting: it may never listen. */
  static starting(options) {
    const daemon = new Daemon(options);
    daemon.#listening.catch(() => {});
    return daemon;
  }

  constructor({
    store,
    host = "127.0.0.1",
    port = 0,
    listen = [`${host}:${port}`],
    command = "serve",
    words = [],
    env,
    wrapper = [],
  }) {
    this.store = store;
    this.host = host;
    const all = [
      ...wrapper,
      program,
      command,
      ...listen.flatMap((one) => ["--listen", one]),
      ...(store ? ["--store", store] : []),
      "--pages",
      join(root, "overlay"),
      ...words,
    ];
    this.child = spawn(all[0], all.slice(1), {
      cwd: root,
      env: environment(env),
      stdio: ["ignore", "pipe", "pipe"],
    });
    alive.add(this.child);
    this.ended = new Promise((resolve, reject) => {
      this.child.on("error", reject);
      this.child.on("close", (code, signal) => {
        alive.delete(this.child);
        resolve({ code, signal });
      });
    });
    this.child.stderr.setEncoding("utf8").on("data", (text) => (this.#errors += text));
    this.child.stdout.setEncoding("utf8").on("data", (text) => (this.#out += text));
    this.#listening = this.#listen();
  }
  #listening;

  #listen() {
    return new Promise((resolve, reject) => {
      const look = () => {
        const printed = /^http:\/\/\S+:(\d+)\/ /m.exec(this.#out);
        if (!printed) return;
        this.port = Number(printed[1]);
        resolve();
      };
      this.child.stdout.on("data", look);
      this.ended.then(
        ({ code, signal }) =>
          reject(new Error(`the daemon ended: ${code ?? signal} ${this.#errors}`)),
        reject,
      );
    });
  }

  /** What it has said about itself so far. */
  get errors() {
    return this.#errors;
  }

  get out() {
    return this.#out;
  }

  /** Ends it in order, and sees that it did. */
  async stop(signal = "SIGTERM") {
    this.child.kill(signal);
    const { code } = await within(this.ended, () => `the daemon to stop: ${this.#errors}`);
    assert.equal(code, 0, this.#errors);
    assert.doesNotMatch(this.#errors, /Sanitizer|runtime error/);
  }

  /** Ends it as a power cut would. */
  async kill() {
    this.child.kill("SIGKILL");
    await within(this.ended, "the killed daemon's end");
    assert.doesNotMatch(this.#errors, /Sanitizer|runtime error/);
  }

  isAlive() {
    return this.child.exitCode === null && this.child.signalCode === null;
  }

  url(path = "/") {
    return `http://${this.host}:${this.port}${path}`;
  }

  /** One request on a connection of its own: {status, headers, body}. */
  ask(path, { method = "GET", headers = {}, body } = {}) {
    return within(
      new Promise((resolve, reject) => {
        const sizes = body === undefined ? {} : { "Content-Length": Buffer.byteLength(body) };
        const sent = request(
          {
            host: this.host,
            port: this.port,
            path,
            method,
            agent: false,
            headers: { ...sizes, ...headers },
          },
          (answer) => {
            let text = "";
            answer.setEncoding("utf8").on("data", (piece) => (text += piece));
            answer.on("error", reject);
            answer.on("end", () =>
              resolve({ status: answer.statusCode, headers: answer.headers, body: text }),
            );
          },
        );
        sent.on("error", reject);
        sent.end(body);
      }),
      `${method} ${path}`,
    );
  }

  /** Sends a body as it stands to the intake. */
  postText(body, type = "application/json") {
    return this.ask("/api/v1/events", { method: "POST", headers: { "Content-Type": type }, body });
  }

  /** Sends an event that must be taken; answers its number. */
  async post(event) {
    const { status, body } = await this.postText(JSON.stringify(event));
    assert.equal(status, 200, `${JSON.stringify(event)}: ${body}`);
    const answer = JSON.parse(body);
    assert.equal(answer.id, event.id);
    return answer.seq;
  }

  /** Sends events at once, all of which must be taken; answers their numbers. */
  async postAll(events) {
    const { status, body } = await this.postText(ndjson(events), "application/x-ndjson");
    assert.equal(status, 200, body);
    const answers = rows(body);
    assert.deepEqual(
      answers.map(({ id }) => id),
      events.map(({ id }) => id),
    );
    return answers.map(({ seq }) => seq);
  }

  async get(path) {
    const { status, body } = await this.ask(path);
    assert.equal(status, 200, `${path}: ${body}`);
    return body;
  }

  /** The topic's snapshot: {topic, epoch, seq, state}. */
  async topic(name) {
    return JSON.parse(await this.get(`/api/v1/topics/${name}`));
  }

  /** The bout's state, now. */
  async bout(id) {
    return JSON.parse(await this.get(`/api/v1/bouts/${id}`));
  }

  /** The bout's log, as text. */
  log(id) {
    return this.get(`/api/v1/bouts/${id}/events`);
  }
}

/** Options of a daemon whose public feed is on though minors wrestle, as they do on the demo day. */
export const PUBLIC_MINORS = { words: ["--public-minors"] };

/** A daemon with a store of its own, to be stopped by who started it. */
export function startDaemon(options = {}) {
  return Daemon.start({ store: join(temporaryFolder(), "day.sqlite"), ...options });
}

/** The same for one test, stopped in order at the test's end if it still runs then. */
export async function daemonFor(test, options) {
  const daemon = await startDaemon(options);
  test.after(() => (daemon.isAlive() ? daemon.stop() : undefined));
  return daemon;
}

/** Makes a key for a store, by the command: {key, addresses}. */
export async function makeKey(store, role, ...words) {
  const { code, out, errors } = await run(["key", "add", role, "--store", store, ...words]);
  assert.equal(code, 0, errors);
  const [key, ...addresses] = out.split("\n").filter(Boolean);
  return { key, addresses };
}

/** A key as a header, as programs show it. */
export const bearer = (key) => (key ? { Authorization: `Bearer ${key}` } : {});

/** The answer is a problem of that kind (RFC 9457), told in words, with the place where it has one.
 *  @param {{status: number, type: string, pointer?: string, line?: number, id?: string}} want */
export function assertProblem({ status, headers, body }, want) {
  assert.equal(status, want.status, body);
  assert.equal(headers["content-type"], "application/problem+json", body);
  checkProblem(JSON.parse(body), want);
}

export function checkProblem(problem, { type, status, ...places }) {
  const text = JSON.stringify(problem);
  assert.equal(problem.type, `/problem/${type}`, text);
  assert.equal(problem.status, status, text);
  assert.ok(problem.title?.length > 0, text);
  for (const [name, value] of Object.entries(places)) assert.equal(problem[name], value, text);
  if (status === 400 || status === 422) assert.ok(problem.detail?.length > 0, text);
}
