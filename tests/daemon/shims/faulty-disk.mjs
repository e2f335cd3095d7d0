// The disk that fails when a test says so (faulty_disk.c), built when it is first wanted.
import { execFileSync } from "node:child_process";
import { existsSync, mkdirSync, readFileSync, renameSync, statSync, writeFileSync } from "node:fs";
import { join } from "node:path";
import { root, temporaryFolder } from "../../support/program.mjs";

const source = join(root, "tests/daemon/shims/faulty_disk.c");
const library = join(root, "build/shims/faulty_disk.so");

function build() {
  if (existsSync(library) && statSync(library).mtimeMs > statSync(source).mtimeMs) return;
  mkdirSync(join(root, "build/shims"), { recursive: true });
  const made = `${library}.${process.pid}`; // another run may be building it too
  const warnings = ["-Wall", "-Wextra", "-Werror"];
  execFileSync("gcc", ["-std=gnu17", "-O1", ...warnings, "-shared", "-fPIC", source, "-o", made]);
  renameSync(made, library);
}

export class FaultyDisk {
  #folder = temporaryFolder();

  /** @param {{files: string, calls: string, from: number, count?: number, error: string}} fault
   *  as faulty_disk.c says */
  constructor({ files, calls, from, count = 0, error }) {
    build();
    this.env = {
      LD_PRELOAD: library,
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

  /** The calls since then: ["sync day.sqlite-wal", "pwrite day.sqlite-wal failed", …]. */
  get calls() {
    if (!existsSync(this.env.FAULT_LOG)) return [];
    return readFileSync(this.env.FAULT_LOG, "utf8").split("\n").filter(Boolean);
  }

  get hasFailed() {
    return this.calls.some((call) => call.endsWith(" failed"));
  }
}
