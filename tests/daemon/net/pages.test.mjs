// The pages of a folder: their types and headers, what a browser may keep, and that nothing outside
// the folder is ever served.
import assert from "node:assert/strict";
import { mkdir, mkdtemp, rm, symlink, utimes, writeFile } from "node:fs/promises";
import { tmpdir } from "node:os";
import { join } from "node:path";
import { after, before, test } from "node:test";
import { Raw, request, startServer } from "./raw.mjs";

let folder;
let server;
let port;
before(async () => {
  folder = await mkdtemp(join(tmpdir(), "net-pages-"));
  await mkdir(join(folder, "pages/screen/deep"), { recursive: true });
  await mkdir(join(folder, "pages/.hidden"));
  const put = (name, text) => writeFile(join(folder, name), text);
  await put("secret.txt", "a secret");
  await put("pages/index.html", "<!doctype html><title>start</title>");
  await put("pages/screen/index.html", "the screen");
  for (const ending of ["js", "css", "html", "woff2", "svg", "json", "png", "txt", "strange"]) await put(`pages/screen/file.${ending}`, ending);
  await put("pages/screen/large.js", "x".repeat(3_000_000));
  await put("pages/screen/empty.css", "");
  await put("pages/.hidden/file.txt", "hidden");
  await put("pages/.env", "hidden");
  server = await startServer({ pages: join(folder, "pages") });
  port = server.port;
});
after(async () => {
  const { code, errors } = await server.stop();
  await rm(folder, { recursive: true });
  assert.equal(code, 0, errors);
});

const get = (path, headers = "") => request(port, `GET ${path} HTTP/1.1${headers}`);

test("each file has its type and the strict policy", async () => {
  for (const [ending, type] of [
    ["js", "text/javascript; charset=utf-8"], ["css", "text/css; charset=utf-8"], ["html", "text/html; charset=utf-8"], ["woff2", "font/woff2"],
    ["svg", "image/svg+xml"], ["json", "application/json"], ["png", "image/png"], ["txt", "text/plain; charset=utf-8"], ["strange", "application/octet-stream"],
  ]) {
    const { status, headers, body } = await get(`/screen/file.${ending}?ignored`);
    assert.equal(status, 200);
    assert.equal(body, ending);
    assert.equal(headers["content-type"], type);
    assert.equal(
      headers["content-security-policy"],
      "default-src 'none'; img-src 'self' data:; script-src 'self'; style-src 'self'; font-src 'self'; connect-src 'self'; frame-src 'self'; frame-ancestors 'self'; base-uri 'none'; form-action 'none'",
    );
    assert.equal(headers["x-content-type-options"], "nosniff");
    assert.equal(headers["referrer-policy"], "no-referrer");
    assert.equal(headers["cache-control"], "no-cache");
    assert.match(headers.etag, /^"[0-9a-f.-]+"$/);
  }
});

test("a folder means its index.html, and its address ends with a slash", async () => {
  assert.match((await get("/")).body, /start/);
  assert.equal((await get("/screen/")).body, "the screen");
  assert.equal((await get("/screen/")).headers["content-type"], "text/html; charset=utf-8");
  const moved = await get("/screen");
  assert.equal(moved.status, 301);
  assert.equal(moved.headers.location, "screen/");
  assert.equal((await get("/screen/deep/")).status, 404);
});

test("what is unchanged isn't sent again, what has changed is", async () => {
  const first = await get("/screen/file.js");
  const again = await get("/screen/file.js", `\r\nIf-None-Match: ${first.headers.etag}`);
  assert.equal(again.status, 304);
  assert.equal(again.body, "");
  assert.equal(again.headers.etag, first.headers.etag);
  assert.equal((await get("/screen/file.js", `\r\nIf-None-Match: "other", W/${first.headers.etag}`)).status, 304);
  assert.equal((await get("/screen/file.js", '\r\nIf-None-Match: "other"')).status, 200);
  await writeFile(join(folder, "pages/screen/file.js"), "changed");
  await utimes(join(folder, "pages/screen/file.js"), 1e9, 1e9);
  const changed = await get("/screen/file.js", `\r\nIf-None-Match: ${first.headers.etag}`);
  assert.equal(changed.status, 200);
  assert.equal(changed.body, "changed");
  await writeFile(join(folder, "pages/screen/file.js"), "js");
});

test("large, empty, and without their body", async () => {
  assert.equal((await get("/screen/large.js")).bytes.length, 3_000_000);
  assert.equal((await get("/screen/empty.css")).status, 200);
  const head = await request(port, "HEAD /screen/large.js HTTP/1.1");
  assert.equal(head.status, 200);
  assert.equal(head.headers["content-length"], "3000000");
  const all = await Promise.all(Array.from({ length: 20 }, () => get("/screen/large.js")));
  assert.ok(all.every(({ bytes }) => bytes.length === 3_000_000 && bytes[2_999_999] === 120));
});

test("nothing outside the folder, and nothing hidden, however it is asked for", async () => {
  await symlink("/nowhere/at/all", join(folder, "pages/broken.txt"));
  for (const path of [
    "/../secret.txt", "/screen/../../secret.txt", "/%2e%2e/secret.txt", "/..%2fsecret.txt", "/%2e%2e%2fsecret.txt", "/screen/%2e%2e/%2e%2e/secret.txt",
    "/./../secret.txt", "//secret.txt", "/.../secret.txt", "/..;/secret.txt", "/%252e%252e/secret.txt", "/..%5csecret.txt", "/screen/..%00/secret.txt",
    "/.hidden/file.txt", "/.env", "/%2eenv", "/screen/../.env", "/screen/file.js/", "/screen/file.js/x", "/nothing.js", "/SCREEN/file.js", "/broken.txt",
    `/${"a/".repeat(2000)}`, `/${"a".repeat(5000)}`, "/screen/file.txt%20", "/etc/passwd",
  ]) {
    const raw = await Raw.open(port);
    raw.write(`GET ${path} HTTP/1.1\r\nHost: x\r\n\r\n`);
    const all = (await raw.end()).toString();
    assert.ok(!all.includes("secret") && !all.includes("hidden"), `${path}: ${all}`);
    assert.match(all || "HTTP/1.1 400", /^HTTP\/1\.1 40[034]/, path); // lws hangs up on a NUL
    raw.destroy();
  }
});

test("no folder: no pages, and the rest works", async () => {
  const own = await startServer();
  const answer = await request(own.port, "GET / HTTP/1.1");
  assert.equal(answer.status, 404);
  assert.equal(answer.headers["content-type"], "application/problem+json");
  assert.equal((await request(own.port, "GET /healthz HTTP/1.1")).status, 200);
  assert.equal((await own.stop()).code, 0);
});
