// The disk that fails when a test says so (faulty_disk.c), built when it is first wanted.
import { existsSync, readFileSync, rmSync, writeFileSync } from "node:fs";
import { join } from "node:path";
import { compiled } from "../../support/compiled.mjs";
import { temporaryFolder } from "../../support/program.mjs";

export class FaultyDisk {
  #folder = temporaryFolder();

  /** @param {{files: string, calls: string, from: number, count?: number, error: string}} fault
   *  as faulty_disk.c says */
  constructor({ files, calls, from, count = 0, error }) {
    this.env = {
      LD_PRELOAD: compiled("tests/daemon/shims/faulty_disk.c", { library: true }),
      ASAN_OPTIONS: "exitcode=99:verify_asan_link_order=0",
      FAULT_FILES: files,
      FAULT_CALLS: calls,
      FAULT_FROM: String(from),
      FAULT_COUNT: String(count),
      FAULT_ERROR: error,
      FAULT_ARMED: join(this.#folder, "armed"),
      FAULT_LOG: join(this.#folder, "log"),
    };
  }

  /** From now on calls are counted. */
  arm() {
    writeFileSync(this.env.FAULT_ARMED, "");
    return this;
  }

  /** It works again, and what hangs goes on. */
  disarm() {
    rmSync(this.env.FAULT_ARMED, { force: true });
  }

  /** The calls since then: ["sync day.sqlite-wal", "pwrite day.sqlite-wal failed", …]. */
  get calls() {
    if (!existsSync(this.env.FAULT_LOG)) return [];
    return readFileSync(this.env.FAULT_LOG, "utf8").split("\n").filter(Boolean);
  }

  get hasFailed() {
    return this.calls.some((call) => call.endsWith(" failed"));
  }
}
