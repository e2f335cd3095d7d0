// The system clock that a test steps (stepped_clock.c), built when it is first wanted.
import { writeFileSync } from "node:fs";
import { join } from "node:path";
import { compiled } from "../../support/compiled.mjs";
import { temporaryFolder } from "../../support/program.mjs";

export class SteppedClock {
  #file = join(temporaryFolder(), "step");
  env = {
    LD_PRELOAD: compiled("tests/daemon/shims/stepped_clock.c", { library: true }),
    ASAN_OPTIONS: "exitcode=99:verify_asan_link_order=0",
    STEP_FILE: this.#file,
  };

  constructor() {
    this.step(0);
  }

  /** From now on the time of day is off by so many seconds. */
  step(seconds) {
    writeFileSync(this.#file, String(seconds));
  }
}
