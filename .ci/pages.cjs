// Looks at reports as a reader meets them: web pages in a browser, at the widths of a phone, a laptop and a print on A4;
// PDF files with pdfinfo, pdffonts and pdftotext.
// Arguments: the files. NODE_PATH holds puppeteer-core and axe-core; CHROMIUM is the browser. PICTURES, if set, is a folder for
// pictures of the web pages.
'use strict'
const puppeteer = require('puppeteer-core')
const axe = require('axe-core')
const path = require('path')
const { execFileSync } = require('child_process')

// Text area of a printed page: A4 less the margins of the style sheet, in CSS pixels.
const print = Math.floor((210 - 2 * 17) / 25.4 * 96)
const widths = [['phone', 360, 'screen'], ['laptop', 1280, 'screen'], ['print', print, 'print']]

// What is wrong with a page as it stands; runs in the browser.
function look () {
  const wrong = []
  const root = document.documentElement
  if (root.scrollWidth > root.clientWidth) wrong.push(`the page is ${root.scrollWidth} wide in a window of ${root.clientWidth}`)
  if (document.scripts.length) wrong.push('there is a script')
  for (const e of document.querySelectorAll('*')) {
    for (const a of e.attributes) {
      if (/^on/i.test(a.name)) wrong.push(`<${e.tagName}> has ${a.name}`)
      if (['href', 'src', 'xlink:href', 'action', 'data', 'style'].includes(a.name) && a.name !== 'style' && !a.value.startsWith('#')) wrong.push(`${a.name} leads outside: ${a.value.slice(0, 60)}`)
    }
  }
  for (const a of document.querySelectorAll('a')) {
    const id = a.getAttribute('href').slice(1)
    if (!document.getElementById(id)) wrong.push(`a link to ${id}, which is nowhere`)
    if (!a.textContent.trim()) wrong.push('a link without words')
  }
  const ids = new Set()
  for (const e of document.querySelectorAll('[id]')) {
    if (ids.has(e.id)) wrong.push(`two elements have the id ${e.id}`)
    ids.add(e.id)
  }
  const paper = matchMedia('print').matches
  document.querySelectorAll('table').forEach((t, n) => {
    const columns = t.tHead.rows[0].cells.length
    if (!t.tBodies.length) wrong.push(`table ${n + 1} has no body`)
    for (const r of t.querySelectorAll('tbody tr')) {
      const cells = [...r.cells].reduce((k, c) => k + c.colSpan, 0)
      if (cells !== columns) wrong.push(`table ${n + 1}: a row of ${cells} cells under ${columns} headings`)
    }
    const box = t.parentElement.getBoundingClientRect()
    if (paper && t.getBoundingClientRect().right > box.right + 1) wrong.push(`table ${n + 1} runs off the page by ${Math.round(t.getBoundingClientRect().right - box.right)}`)
    for (const c of t.querySelectorAll('th, td')) {
      if (c.scrollWidth > c.clientWidth + 1) wrong.push(`table ${n + 1}: a cell is cut: ${c.textContent.slice(0, 40)}`)
    }
  })
  // Lines of text in drawings must not lie over one another.
  document.querySelectorAll('svg').forEach((s, n) => {
    const texts = [...s.querySelectorAll('text')].filter(t => t.textContent.trim()).map(t => ({ t, b: t.getBoundingClientRect() })).filter(x => x.b.width > 0)
    const frame = s.getBoundingClientRect()
    for (let i = 0; i < texts.length; i++) {
      const a = texts[i].b
      if (a.left < frame.left - 2 || a.right > frame.right + 2) wrong.push(`figure ${n + 1}: “${texts[i].t.textContent.slice(0, 40)}” runs out of it`)
      for (let j = i + 1; j < texts.length; j++) {
        const b = texts[j].b
        const w = Math.min(a.right, b.right) - Math.max(a.left, b.left)
        const h = Math.min(a.bottom, b.bottom) - Math.max(a.top, b.top)
        if (w > 2 && h > 0.4 * Math.min(a.height, b.height)) wrong.push(`figure ${n + 1}: “${texts[i].t.textContent.slice(0, 30)}” lies over “${texts[j].t.textContent.slice(0, 30)}”`)
      }
    }
  })
  return wrong
}

const lines = (tool, ...args) => execFileSync(tool, args, { encoding: 'utf8', maxBuffer: 1 << 28 }).split('\n')

// What is wrong with a PDF.
function lookPages (file) {
  const wrong = []
  const info = Object.fromEntries(lines('pdfinfo', file).map(l => [l.slice(0, l.indexOf(':')), l.slice(l.indexOf(':') + 1).trim()]))
  if (!info.Title) wrong.push('it has no title')
  if (info.JavaScript !== 'no' || info.Form !== 'none') wrong.push('it has a script or a form')
  if (!/A4/.test(info['Page size'])) wrong.push('its pages are not A4 but ' + info['Page size'])
  const fonts = lines('pdffonts', file).slice(2).filter(l => l.trim())
  if (!fonts.length) wrong.push('it has no font')
  for (const f of fonts) {
    const flags = f.trim().split(/ {2,}| (?=yes|no)/).filter(w => w === 'yes' || w === 'no')
    if (flags[0] !== 'yes') wrong.push('a font is not embedded: ' + f)
    if (flags[2] !== 'yes') wrong.push('a font does not say what its letters are: ' + f)
  }
  const text = lines('pdftotext', '-layout', file, '-').join('\n')
  // All reports end alike; one with an appendix, and one that is not to be shared, have these besides, and a department's pages others.
  const parts = ['licensed clinical judgement']
  const meeting = path.basename(file).startsWith('meeting')
  if (meeting) parts.push('Rows to chase', path.basename(file) === 'meeting.pdf' ? 'No ranking' : 'Beside the department')
  else if (text.includes('Method and references')) parts.push('Estimates', 'Comparison with published figures', 'Cautions')
  else if (!path.basename(file).startsWith('shared')) parts.push('Data and follow-up', 'What numbers of this size can show')
  if (!meeting) parts.push('Reflection and actions')
  for (const part of parts) {
    if (!text.includes(part)) wrong.push('no part ' + part)
  }
  const pages = Number(info.Pages)
  for (let n = 1; n <= pages; n++) if (!text.includes(`Page ${n} of ${pages}`)) wrong.push(`page ${n} does not say so`)
  let page = 0
  let words = []
  for (const l of [...lines('pdftotext', '-bbox', file, '-'), '<page ']) {
    if (l.includes('<page ')) {
      for (let i = 0; i < words.length; i++) {
        const a = words[i]
        if (a.left < 40 || a.right > 595.3 - 40 || a.top < 25 || a.bottom > 841.9 - 20) wrong.push(`page ${page}: “${a.word}” runs off the page`)
        for (let j = i + 1; j < words.length; j++) {
          const b = words[j]
          const w = Math.min(a.right, b.right) - Math.max(a.left, b.left)
          const h = Math.min(a.bottom, b.bottom) - Math.max(a.top, b.top)
          if (w > 1 && h > 0.5 * Math.min(a.bottom - a.top, b.bottom - b.top)) wrong.push(`page ${page}: “${a.word}” lies over “${b.word}”`)
        }
      }
      words = []
      page++
      continue
    }
    const m = l.match(/<word xMin="([^"]+)" yMin="([^"]+)" xMax="([^"]+)" yMax="([^"]+)">(.*)<\/word>/)
    if (m) words.push({ left: +m[1], top: +m[2], right: +m[3], bottom: +m[4], word: m[5] })
  }
  return wrong
}

function report (name, wrong) {
  console.log(`${name}: ${wrong.length ? wrong.length + ' faults' : 'sound'}`)
  for (const w of wrong.slice(0, 12)) console.log('  ' + w)
  return wrong.length
}

async function main () {
  const browser = await puppeteer.launch({ executablePath: process.env.CHROMIUM, args: ['--no-sandbox', '--disable-gpu'] })
  let bad = 0
  for (const file of process.argv.slice(2)) {
    if (file.endsWith('.pdf')) {
      bad += report(path.basename(file), lookPages(file))
      continue
    }
    for (const [name, width, media] of widths) {
      const page = await browser.newPage()
      const asked = []
      page.on('request', r => { if (!r.url().startsWith('file:')) asked.push(r.url()) })
      page.on('dialog', async d => { asked.push('a dialog: ' + d.message()); await d.dismiss() })
      await page.setViewport({ width, height: 900 })
      await page.emulateMediaType(media)
      await page.goto('file://' + path.resolve(file))
      const wrong = await page.evaluate(look)
      if (asked.length) wrong.push('it asks for ' + asked.join(', '))
      if (media === 'screen') {
        // The page's own policy keeps scripts out, and so that of axe: it is put in past the policy.
        const session = await page.createCDPSession()
        await session.send('Page.setBypassCSP', { enabled: true })
        await page.reload()
        await page.evaluate(axe.source)
        const found = await page.evaluate(() => window.axe.run(document, { resultTypes: ['violations'] }))
        for (const v of found.violations) wrong.push(`${v.impact}: ${v.help} (${v.nodes.length} times, such as ${v.nodes[0].html.slice(0, 120)})`)
      }
      bad += report(`${path.basename(file)}, ${name}`, wrong)
      if (process.env.PICTURES) await page.screenshot({ path: path.join(process.env.PICTURES, path.basename(file, '.html') + '-' + name + '.png'), fullPage: true })
      await page.close()
    }
  }
  await browser.close()
  process.exit(bad ? 1 : 0)
}

main().catch(e => { console.error(e); process.exit(1) })
