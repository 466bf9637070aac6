// A real browser, driven page by page. Standard input: what to do, as JSON; standard output: what was found.
// {browser, profile, visits: [{url, width, dark, script, axe, print, shot, steps: [...]}]}
import { readFileSync } from "node:fs";
import { createRequire } from "node:module";
import puppeteer from "puppeteer-core";

const asked = JSON.parse(readFileSync(0, "utf8"));
const axe = readFileSync(createRequire(import.meta.url).resolve("axe-core/axe.min.js"), "utf8");
const browser = await puppeteer.launch({
  executablePath: asked.browser,
  pipe: true,
  userDataDir: asked.profile,
  args: ["--no-sandbox", "--disable-gpu", "--no-first-run", "--disable-background-networking",
    "--disable-component-update", "--disable-sync", "--hide-scrollbars"],
});

async function visit({ url, width = 1280, dark = false, script = true, check = false, print = false, touch = false, shot, steps = [] }) {
  const page = await browser.newPage();
  const found = { errors: [], requests: [], read: [], violations: [] };
  page.on("console", (said) => { if (said.type() !== "log") found.errors.push(said.text()); });
  page.on("pageerror", (error) => found.errors.push(String(error)));
  page.on("request", (request) => found.requests.push(request.url()));
  page.on("requestfailed", (request) => found.errors.push(`failed: ${request.url()}`));
  await page.setViewport({ width, height: 900, hasTouch: touch });
  await page.setJavaScriptEnabled(script);
  await page.emulateMediaFeatures([{ name: "prefers-color-scheme", value: dark ? "dark" : "light" }]);
  if (print) await page.emulateMediaType("print");
  await page.goto(url, { waitUntil: "load" });
  for (const [what, ...rest] of steps) {
    if (what === "type") await page.type(...rest);
    else if (what === "select") await page.select(...rest);
    else if (what === "press") await page.keyboard.press(...rest);
    else if (what === "hover") await page.hover(rest[0]);
    else if (what === "focus") await page.focus(rest[0]);
    else if (what === "click") await page.click(rest[0]);
    else if (what === "tap") await Promise.all([page.tap(rest[0]), rest[1] === "leads" && page.waitForNavigation()]);
    else if (what === "wheel") {
      // Over the middle of an element, with a key held down or none.
      await page.hover(rest[0]);
      if (rest[2]) await page.keyboard.down(rest[2]);
      await page.mouse.wheel({ deltaY: rest[1] });
      if (rest[2]) await page.keyboard.up(rest[2]);
      await new Promise((done) => setTimeout(done, 200));
    } else if (what === "drag") {
      const box = await (await page.$(rest[0])).boundingBox();
      const [x, y] = [box.x + box.width / 2, box.y + box.height / 2];
      await page.mouse.move(x, y);
      await page.mouse.down();
      await page.mouse.move(x + rest[1], y + rest[2], { steps: 4 });
      await page.mouse.up();
    } else if (what === "read") found.read.push(await page.evaluate(rest[0]));
  }
  found.wide = await page.evaluate("document.documentElement.scrollWidth - document.documentElement.clientWidth");
  if (check) {
    await page.evaluate(axe);
    const { violations } = await page.evaluate("axe.run(document, { resultTypes: ['violations'] })");
    found.violations = violations.map((each) => `${each.id}: ${each.nodes.slice(0, 3).map((n) => n.html.slice(0, 200)).join(" ")}`);
  }
  if (shot) await page.screenshot({ path: shot, fullPage: true });
  await page.close();
  return found;
}

const results = [];
for (const each of asked.visits) results.push(await visit(each));
await browser.close();
process.stdout.write(JSON.stringify(results));
