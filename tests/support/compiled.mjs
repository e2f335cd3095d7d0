// Small C programs and libraries of the tests' own, built when they are first wanted.
import { execFileSync } from "node:child_process";
import { existsSync, mkdirSync, renameSync, statSync } from "node:fs";
import { basename, join } from "node:path";
import { root } from "./program.mjs";

/** Builds a source below tests/ and answers the path of what came of it.
 *  @param {string} source "tests/daemon/shims/step_clock.c"
 *  @param {{library?: boolean}} options  a library for LD_PRELOAD, or a program */
export function compiled(source, { library = false } = {}) {
  const from = join(root, source);
  const to = join(root, "build/shims", basename(source, ".c") + (library ? ".so" : ""));
  if (existsSync(to) && statSync(to).mtimeMs > statSync(from).mtimeMs) return to;
  mkdirSync(join(root, "build/shims"), { recursive: true });
  const made = `${to}.${process.pid}`; // another run may be building it too
  const words = ["-std=gnu17", "-O1", "-Wall", "-Wextra", "-Werror"];
  if (library) words.push("-shared", "-fPIC");
  execFileSync("gcc", [...words, from, "-o", made]);
  renameSync(made, to);
  return to;
}
