// look.js - pages looked at in a browser: no words over words, none broken
// inside, enough contrast by day and by night, nothing wider than the window,
// one sheet of paper.
//
//   node look.js FOLDER PAGE...      pictures go to FOLDER
//   node look.js --prove FOLDER      pages with planted faults: each is found
//
// Contrast: 4.5:1 (WCAG 2.1, success criterion 1.4.3, and the definitions of
// contrast ratio and relative luminance there).
'use strict';
const fs = require('fs');
const os = require('os');
const path = require('path');
const puppeteer = require('puppeteer-core');

const WIDTHS = [390, 1024, 1920];
const PAPERS = ['A4', 'Letter'];
const BROWSERS = ['/usr/bin/chromium', '/usr/bin/chromium-browser'];

// Runs in the page. Returns one line for each fault.
function judge() {
  const faults = [];
  const words = [];
  const luminance = ([r, g, b]) => {
    const linear = [r, g, b].map((v) => {
      v /= 255;
      return v <= 0.04045 ? v / 12.92 : ((v + 0.055) / 1.055) ** 2.4;
    });
    return 0.2126 * linear[0] + 0.7152 * linear[1] + 0.0722 * linear[2];
  };
  // A canvas knows every way to write a colour.
  const canvas = document.createElement('canvas').getContext('2d', {
    willReadFrequently: true,
  });
  const color = (text) => {
    canvas.clearRect(0, 0, 1, 1);
    canvas.fillStyle = text;
    canvas.fillRect(0, 0, 1, 1);
    const [r, g, b, a] = canvas.getImageData(0, 0, 1, 1).data;
    return { rgb: [r, g, b], alpha: a / 255 };
  };
  const over = (top, below) =>
    top.rgb.map((v, i) => v * top.alpha + below[i] * (1 - top.alpha));
  // What is painted under a box: shapes of its picture that hold its middle,
  // and the grounds of the elements around it, from the outside in.
  const ground = (element, box) => {
    const layers = [];
    const svg = element.closest('svg');
    for (let e = element; e; e = e.parentElement)
      if (!(e instanceof SVGElement) || e === svg)
        layers.unshift(color(getComputedStyle(e).backgroundColor));
    if (svg)
      for (const shape of svg.querySelectorAll('circle,rect,polygon')) {
        const at = shape.getBoundingClientRect();
        const x = (box.left + box.right) / 2;
        const y = (box.top + box.bottom) / 2;
        const style = getComputedStyle(shape);
        if (style.fill === 'none' || x < at.left || x > at.right ||
            y < at.top || y > at.bottom)
          continue;
        const fill = color(style.fill);
        fill.alpha *= Number(style.fillOpacity);
        layers.push(fill);
      }
    return layers.reduce((below, top) => over(top, below), [255, 255, 255]);
  };

  // Each run of letters or digits stands on one line; but in a block, not a
  // cell, one may be wider than the block and has to break.
  const broken = (node, element) => {
    let block = element;
    while (getComputedStyle(block).display.startsWith('inline'))
      block = block.parentElement;
    const cell = block.closest('td,th');
    for (const word of node.data.matchAll(/[\p{L}\p{N}]+/gu)) {
      const range = document.createRange();
      range.setStart(node, word.index);
      range.setEnd(node, word.index + word[0].length);
      const parts = [...range.getClientRects()].filter((r) => r.width > 0);
      const lines = new Set(parts.map((r) => Math.round(r.top)));
      const wide = parts.reduce((sum, r) => sum + r.width, 0);
      if (lines.size > 1 && (cell || wide < block.clientWidth))
        faults.push(`"${word[0].slice(0, 40)}" is broken inside`);
    }
  };

  const walker = document.createTreeWalker(document.body, NodeFilter.SHOW_TEXT);
  while (walker.nextNode()) {
    const node = walker.currentNode;
    const element = node.parentElement;
    if (!node.data.trim() || element.closest('title,desc,script,style'))
      continue;
    const range = document.createRange();
    range.selectNodeContents(node);
    if (!(element instanceof SVGElement)) broken(node, element);
    const boxes = element instanceof SVGElement
      ? [element.getBoundingClientRect()] : [...range.getClientRects()];
    const style = getComputedStyle(element);
    for (const box of boxes) {
      if (box.width < 1 || box.height < 1) continue;
      const text = node.data.trim().replace(/\s+/g, ' ').slice(0, 40);
      words.push({ box, text, element });
      const below = ground(element, box);
      const paint = color(element instanceof SVGElement ? style.fill
        : style.color);
      const a = luminance(over(paint, below));
      const b = luminance(below);
      const ratio = (Math.max(a, b) + 0.05) / (Math.min(a, b) + 0.05);
      if (ratio < 4.5)
        faults.push(`contrast ${ratio.toFixed(2)}:1 of "${text}"`);
      if (box.right > document.documentElement.clientWidth + 1 &&
          !element.closest('.wide'))
        faults.push(`"${text}" goes beyond the window`);
      const svg = element instanceof SVGElement && element.ownerSVGElement;
      if (svg) {
        const edge = svg.getBoundingClientRect();
        if (box.left < edge.left - 1 || box.right > edge.right + 1 ||
            box.top < edge.top - 1 || box.bottom > edge.bottom + 1)
          faults.push(`"${text}" is cut off by its picture`);
      }
      if (parseFloat(style.fontSize) < 10)
        faults.push(`"${text}" is written too small`);
    }
  }
  // The boxes of letters hold air above and below: a fifth of the height.
  for (let i = 0; i < words.length; i++)
    for (let j = i + 1; j < words.length; j++) {
      const a = words[i].box;
      const b = words[j].box;
      const wide = Math.min(a.right, b.right) - Math.max(a.left, b.left);
      const high = Math.min(a.bottom, b.bottom) - Math.max(a.top, b.top);
      if (wide > 1 && high > 0.2 * Math.min(a.height, b.height) + 1)
        faults.push(`"${words[i].text}" over "${words[j].text}"`);
    }
  if (document.documentElement.scrollWidth >
      document.documentElement.clientWidth + 1)
    faults.push('the page is wider than the window');
  return { faults: [...new Set(faults)], words: words.length };
}

function sheets(pdf) {
  const bytes = Buffer.from(pdf).toString('latin1');
  return (bytes.match(/\/Type\s*\/Page(?![a-zA-Z])/g) || []).length;
}

async function look(browser, file, folder) {
  const name = path.basename(file, '.html');
  const faults = [];
  const page = await browser.newPage();
  let words = 0;

  page.on('request', (request) => {
    if (request.url() !== 'file://' + path.resolve(file))
      faults.push(`it fetches ${request.url()}`);
  });
  for (const scheme of ['light', 'dark']) {
    await page.emulateMediaFeatures([
      { name: 'prefers-color-scheme', value: scheme }]);
    for (const width of WIDTHS) {
      await page.setViewport({ width, height: 900 });
      await page.goto('file://' + path.resolve(file));
      await page.evaluate(() => {
        for (const e of document.querySelectorAll('details')) e.open = true;
      });
      const found = await page.evaluate(judge);
      words = found.words;
      for (const fault of found.faults)
        faults.push(`${scheme}, ${width} wide: ${fault}`);
      await page.evaluate(() => {
        for (const e of document.querySelectorAll('details')) e.open = false;
      });
      await page.screenshot({ fullPage: true,
        path: path.join(folder, `${name}-${width}-${scheme}.png`) });
    }
  }
  for (const format of PAPERS) {
    const pdf = await page.pdf({ format, preferCSSPageSize: false,
      printBackground: true,
      path: path.join(folder, `${name}-${format}.pdf`) });
    // What grows with a logbook may fill more than one.
    if (sheets(pdf) !== 1 && name !== 'progress')
      faults.push(`${format}: ${sheets(pdf)} sheets instead of one`);
  }
  await page.close();
  if (words === 0) faults.push('there is nothing to read');
  return faults;
}

// Pages that must be found faulty, and in what way.
const PLANTED = {
  overlap: ['<svg viewBox="0 0 300 60" width="300"><text x="10" y="30">' +
            'ninety</text><text x="30" y="32">faster</text></svg>', / over /],
  contrast: ['<p style="color:#999;background:#fff">pale</p>', /contrast/],
  disc: ['<svg viewBox="0 0 300 60" width="300"><circle cx="50" cy="25" ' +
         'r="20" fill="#333"/><text x="45" y="30">1</text></svg>',
         /contrast/],
  wide: ['<p style="width:3000px;white-space:nowrap">' + 'wide '.repeat(500) +
         '</p>', /beyond the window/],
  cut: ['<svg viewBox="0 0 300 60" width="300"><text x="290" y="30">' +
        'cut off</text></svg>', /cut off by/],
  broken: ['<table style="width:60px;table-layout:fixed"><tr><td ' +
           'style="overflow-wrap:anywhere">tolerance</td></tr></table>',
           /broken inside/],
  long: ['<div style="height:2000mm">long</div>', /sheets instead/],
  fetched: ['<p>x</p><img alt="y" src="z.png">',
            /fetches/],
};

async function prove(browser, folder) {
  let bad = 0;
  for (const [name, [body, expected]] of Object.entries(PLANTED)) {
    const file = path.join(folder, `planted-${name}.html`);
    fs.writeFileSync(file, '<!DOCTYPE html><html lang="en"><title>x</title>' +
      '<body style="background:#fff;color:#000">' + body);
    const faults = await look(browser, file, folder);
    if (!faults.some((fault) => expected.test(fault))) {
      console.log(`planted fault "${name}" was not found`);
      bad++;
    }
  }
  return bad;
}

async function main() {
  const proving = process.argv[2] === '--prove';
  const [folder, ...pages] = process.argv.slice(proving ? 3 : 2);
  const data = fs.mkdtempSync(path.join(os.tmpdir(), 'quarterturn-look-'));
  const browser = await puppeteer.launch({
    executablePath: BROWSERS.find((file) => fs.existsSync(file)),
    userDataDir: data,
    args: ['--no-sandbox', '--disable-gpu', '--disable-quic', '--no-first-run',
      '--disable-background-networking', '--disable-component-update',
      '--disable-sync', '--font-render-hinting=none'],
  });
  let bad = 0;

  try {
    if (proving) bad = await prove(browser, folder);
    for (const file of pages) {
      const faults = await look(browser, file, folder);
      for (const fault of faults)
        console.log(`${path.basename(file)}: ${fault}`);
      bad += faults.length;
    }
  } finally {
    await browser.close();
    fs.rmSync(data, { recursive: true, force: true });
  }
  process.exitCode = bad === 0 ? 0 : 1;
}

main();
