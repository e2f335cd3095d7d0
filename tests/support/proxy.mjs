// A line between a client and a daemon that can be cut, or stand still, as a hall's network does.
import { connect, createServer } from "node:net";

export class CuttableProxy {
  host = "127.0.0.1";
  #pairs = new Set();
  #stalled = false;

  static open({ host, port }) {
    const proxy = new CuttableProxy();
    proxy.server = createServer((client) => proxy.#join(client, connect({ host, port })));
    return new Promise((resolve) =>
      proxy.server.listen(0, proxy.host, () => {
        proxy.port = proxy.server.address().port;
        resolve(proxy);
      }),
    );
  }

  #join(client, daemon) {
    const pair = [client, daemon];
    this.#pairs.add(pair);
    for (const [from, to] of [
      [client, daemon],
      [daemon, client],
    ]) {
      from.pipe(to);
      from.on("error", () => {});
      from.on("close", () => {
        to.destroy();
        this.#pairs.delete(pair);
      });
    }
    if (this.#stalled) this.#still(pair);
  }

  url() {
    return `http://${this.host}:${this.port}/`;
  }

  /** Every connection breaks; new ones are let through. */
  cut() {
    for (const pair of this.#pairs) for (const end of pair) end.destroy();
  }

  /** Nothing that the daemon says is read any more, until `resume`. */
  stall() {
    this.#stalled = true;
    for (const pair of this.#pairs) this.#still(pair);
  }

  #still([client, daemon]) {
    daemon.unpipe(client);
    daemon.pause();
  }

  resume() {
    this.#stalled = false;
    for (const [client, daemon] of this.#pairs) daemon.pipe(client);
  }

  close() {
    this.cut();
    return new Promise((resolve) => this.server.close(resolve));
  }
}
