// Chromium, with an eye on what a page must never do: complain, ask another host, or break the
// policy that its own daemon sends.
import assert from "node:assert/strict";
import { readFileSync } from "node:fs";
import { createRequire } from "node:module";
import { chromium } from "playwright-core";
import { LIMIT_MS } from "./wait.mjs";

const axeSource = readFileSync(
  createRequire(import.meta.url).resolve("axe-core/axe.min.js"),
  "utf8",
);

/** @param {string[]} more arguments of Chromium's */
export function openBrowser(...more) {
  return chromium.launch({
    executablePath: process.env.CHROMIUM ?? "/usr/bin/chromium",
    args: [
      "--no-sandbox",
      "--disable-gpu",
      "--disable-quic",
      "--no-first-run",
      "--disable-background-networking",
      "--disable-component-update",
      "--disable-sync",
      ...more,
    ],
  });
}

/** A page with a memory of its own (IndexedDB, localStorage), and all that was wrong on it.
 *  @param {import("playwright-core").Browser} browser
 *  @param {{viewport?: object, colorScheme?: "dark" | "light", reducedMotion?: string}} looks */
export async function openPage(browser, url, looks = {}) {
  const context = await browser.newContext({
    viewport: { width: 1920, height: 1080 },
    locale: "en-GB",
    ...looks,
  });
  context.setDefaultTimeout(LIMIT_MS);
  const page = await context.newPage();
  const wrong = [];
  const { host } = new URL(url);
  page.on("pageerror", (error) => wrong.push(`error: ${error.stack}`));
  page.on("console", (message) => {
    if (["error", "warning"].includes(message.type()) && !isOfALostDaemon(message))
      wrong.push(`${message.type()}: ${message.text()} ${message.location().url}`);
  });
  for (const kind of ["request", "websocket"])
    page.on(
      kind,
      (one) =>
        new URL(one.url()).protocol !== "data:" &&
        new URL(one.url()).host !== host &&
        wrong.push(`${kind} to ${one.url()}`),
    );
  await page.exposeFunction("boutwireTestViolation", (text) => wrong.push(`policy: ${text}`));
  await page.addInitScript(() =>
    addEventListener("securitypolicyviolation", (event) =>
      window.boutwireTestViolation(
        `${event.violatedDirective} ${event.blockedURI} ${event.sourceFile}`,
      ),
    ),
  );
  await page.goto(url, { waitUntil: "load" });
  return Object.assign(page, { wrong, end: () => endPage(page, context) });
}

/* A daemon that is down is told by the browser itself, at each try: no fault of the page. */
const LOST_DAEMON =
  /ERR_CONNECTION_(REFUSED|RESET)|ERR_EMPTY_RESPONSE|WebSocket connection to .* failed/;
const isOfALostDaemon = (message) => message.type() === "error" && LOST_DAEMON.test(message.text());

async function endPage(page, context) {
  const { wrong } = page;
  await context.close();
  assert.deepEqual(wrong, []);
}

/** Waits until the page says so: `is` gets `argument` in the page. */
export async function pageUntil(page, is, argument, what = String(is)) {
  try {
    await page.waitForFunction(is, argument, { timeout: LIMIT_MS, polling: 50 });
  } catch (error) {
    const text = await page.evaluate(() => document.body.innerText).catch(() => "(no page)");
    throw new Error(
      [`${page.url()}: waited in vain for ${what} ${JSON.stringify(argument)}`, text, error.message]
        .concat(page.wrong ?? [])
        .join("\n"),
    );
  }
}

/** The page has that text in what is shown (all whitespace alike). */
export const pageShows = (page, text, selector = "body") =>
  pageUntil(
    page,
    ([where, wanted]) =>
      [...document.querySelectorAll(where)].some(
        (node) => node.checkVisibility() && node.innerText.replace(/\s+/g, " ").includes(wanted),
      ),
    [selector, text],
  );

/** What axe-core finds wrong with the page as it stands, one line a finding. */
export async function accessibilityFaults(page) {
  await page.evaluate(axeSource);
  const { violations } = await page.evaluate(() =>
    window.axe.run(document, { resultTypes: ["violations"] }),
  );
  return violations.flatMap(({ id, help, nodes }) =>
    nodes.map(
      ({ target, failureSummary }) =>
        `${id}: ${help}: ${target} ${failureSummary.replaceAll(/\s+/g, " ")}`,
    ),
  );
}
