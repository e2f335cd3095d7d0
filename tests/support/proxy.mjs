// A line between a client and a daemon that can be cut, or stand still, as a hall's network does.
import { connect, createServer } from "node:net";

export class CuttableProxy {
  host = "127.0.0.1";
  #pairs = new Set();
  #stalled = false;
  #frozen = false;

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
    if (this.#frozen) this.#deaf(pair);
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

  /** Neither end hears anything more of the other, nor that it has gone: as when a cable is pulled.
   *  New connections are taken, and hear nothing either. */
  freeze() {
    this.#frozen = true;
    for (const pair of this.#pairs) this.#deaf(pair);
  }

  #deaf(pair) {
    for (const end of pair) {
      end.unpipe();
      end.removeAllListeners("close");
      end.resume(); // what comes is taken, and lost
    }
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
