// Looks at the page that works without a connection as its user does: in a browser, from a disk, with real files.
// Arguments: the page, a folder of files (see .ci/page). With "short" after them, the example alone.
// NODE_PATH holds puppeteer-core and axe-core; CHROMIUM is the browser. PICTURES, if set, is a folder for pictures.
'use strict'
const puppeteer = require('puppeteer-core')
const axe = require('axe-core')
const fs = require('fs')
const path = require('path')
const { execFileSync } = require('child_process')

const [file, folder, how] = process.argv.slice(2)
const address = 'file://' + path.resolve(file)
const short = how === 'short'
const of = name => path.join(folder, name)

let bad = 0
function report (name, wrong) {
  console.log(`${name}: ${wrong.length ? wrong.length + ' faults' : 'sound'}`)
  for (const w of wrong.slice(0, 12)) console.log('  ' + w)
  bad += wrong.length
}

const widths = [['phone', 360], ['tablet', 768], ['laptop', 1280], ['desktop', 1920]]

// opened opens the page, and keeps an eye on what it asks for and says.
async function opened (browser, width = 1280) {
  const page = await browser.newPage()
  page.wrong = []
  page.on('request', r => { if (r.url() !== address && !/^(blob:null\/|data:image\/svg\+xml)/.test(r.url())) page.wrong.push('it asks for ' + r.url().slice(0, 100)) })
  page.on('pageerror', e => page.wrong.push('an error: ' + e.message))
  page.on('console', m => page.wrong.push('it says on the console: ' + m.text()))
  page.on('dialog', async d => { page.wrong.push('a dialog: ' + d.message()); await d.dismiss() })
  await page.setViewport({ width, height: 900 })
  await page.goto(address)
  await page.waitForSelector('body[data-ready=yes]', { timeout: 120000 })
  return page
}

const idle = page => page.waitForFunction(() => !document.querySelector('button:not(#stop):disabled:not(#answer)') && document.getElementById('busy').hidden, { timeout: 600000 })
async function choose (page, ...files) {
  const input = await page.$('#files')
  await input.uploadFile(...files)
  await page.waitForFunction(() => !document.getElementById('settle').hidden || document.getElementById('choose-wrong').textContent, { timeout: 600000 })
  await idle(page)
}
async function answer (page) {
  await page.click('#answer')
  await page.waitForFunction(() => !document.getElementById('result').hidden && document.getElementById('stale').hidden || document.getElementById('settle-wrong').textContent, { timeout: 600000 })
  await idle(page)
}
const text = (page, id) => page.$eval('#' + id, e => e.textContent)

// saved presses a button and gives the file that is saved.
async function saved (page, form) {
  const to = fs.mkdtempSync(path.join(folder, 'saved-'))
  const session = await page.createCDPSession()
  await session.send('Browser.setDownloadBehavior', { behavior: 'allow', downloadPath: to })
  await page.click(`#result [data-form="${form}"]`)
  for (let i = 0; i < 1200; i++) {
    const [name] = fs.readdirSync(to).filter(n => !n.endsWith('.crdownload'))
    if (name) return fs.readFileSync(path.join(to, name))
    await new Promise(resolve => setTimeout(resolve, 100))
  }
  throw new Error('nothing was saved as ' + form)
}

// look is what is wrong with the page as it stands; runs in the browser.
function look () {
  const wrong = []
  const root = document.documentElement
  if (root.scrollWidth > root.clientWidth) wrong.push(`the page is ${root.scrollWidth} wide in a window of ${root.clientWidth}`)
  const ids = new Set()
  for (const e of document.querySelectorAll('[id]')) {
    if (ids.has(e.id)) wrong.push(`two elements have the id ${e.id}`)
    ids.add(e.id)
  }
  const shown = document.querySelector('main').innerText
  for (const not of [/--[a-z]/, /\bundefined\b/, /\bNaN\b/, /\[object/, /\bnull\b/]) if (not.test(shown)) wrong.push(`it says ${shown.match(not)[0]}`)
  for (const b of document.querySelectorAll('button, select, input:not([type=checkbox]):not([type=file])')) {
    const box = b.getBoundingClientRect()
    if (box.width && box.height < 24) wrong.push(`too low to be touched: ${b.outerHTML.slice(0, 60)}`)
  }
  return wrong
}

async function accessible (page) {
  // The page's own policy keeps the script of axe out: it is put in by the debugger, past the policy.
  await page.evaluate(axe.source)
  const found = await page.evaluate(() => window.axe.run(document, { resultTypes: ['violations'] }))
  return found.violations.map(v => `${v.impact}: ${v.help} (${v.nodes.length} times, such as ${v.nodes[0].html.slice(0, 120)})`)
}

async function picture (page, name) {
  if (process.env.PICTURES) await page.screenshot({ path: path.join(process.env.PICTURES, name + '.png'), fullPage: true })
}

// sameNumbers compares two tables: what is a whole number or a word is equal, estimates to twelve digits.
function sameNumbers (page, command) {
  const wrong = []
  const [a, b] = [page, command].map(t => t.toString('utf8').trim().split('\n').map(l => l.split(',')))
  if (a.length < 2 || a.length !== b.length) return [`${a.length} lines, and ${b.length} of the command`]
  a.forEach((cells, i) => cells.forEach((cell, j) => {
    const other = b[i][j]
    if (cell === other) return
    const [x, y] = [Number(cell), Number(other)]
    if (cell === '' || other === '' || Number.isNaN(x) || Number.isNaN(y) || Number.isInteger(y) || Math.abs(x - y) > 1e-12 * Math.abs(y)) wrong.push(`line ${i + 1}, ${a[0][j]}: ${cell}, of the command ${other}`)
  }))
  return wrong
}

// focused is the path that the keyboard takes: what has the focus after each press of Tab.
async function focused (page, presses) {
  const all = []
  for (let i = 0; i < presses; i++) {
    await page.keyboard.press('Tab')
    all.push(await page.evaluate(() => document.activeElement.id || document.activeElement.textContent.trim().slice(0, 30)))
  }
  return all
}

// theExample goes the whole way with the workbook: it is chosen, settled, answered, saved.
async function theExample (browser) {
  for (const [name, width] of short ? [widths[0], widths[2]] : widths) {
    const page = await opened(browser, width)
    const wrong = page.wrong
    const check = async step => {
      for (const w of [...await page.evaluate(look), ...await accessible(page)]) wrong.push(step + ': ' + w)
      await picture(page, `page-${name}-${step}`)
    }
    const shortly = short && name !== 'laptop' // the answer alone
    if (!shortly) await check('opened')
    if (name === 'laptop') {
      await page.evaluate(() => document.activeElement.blur())
      const keys = await focused(page, 3)
      if (!keys.join().startsWith('files,example,Licences')) wrong.push('the keyboard goes to ' + keys.join())
    }
    await choose(page, of('practice.xlsx'))
    if (await page.evaluate(() => document.activeElement.id) !== 'settle-title') wrong.push('what is to be settled does not get the focus')
    await page.evaluate(() => document.querySelectorAll('section details').forEach(d => { d.open = true }))
    if (!shortly) await check('chosen')
    // The day up to which follow-up is complete, and the one word, are settled by choosing.
    await page.$eval('#asked input[type=date]', e => { e.value = '2024-12-31' })
    await page.$eval('#asked select', e => { e.selectedIndex = 1 })
    await page.click('#again')
    await page.waitForFunction(() => document.getElementById('settled').textContent.includes('2024-12-31'), { timeout: 60000 })
    await idle(page)
    if (!(await text(page, 'toml')).includes('closing_date = "2024-12-31"')) wrong.push('the settings file does not say what was chosen')
    await answer(page)
    if (await page.evaluate(() => document.activeElement.id) !== 'result-title') wrong.push('the answer does not get the focus')
    if (!/at 10 years/.test(await text(page, 'answered'))) wrong.push('no answer')
    if (await page.$$eval('#drawn figure svg', all => all.length) < 2) wrong.push('no figures')
    await check('answered')
    if (name === 'laptop') {
      const settings = of('chosen.toml')
      fs.writeFileSync(settings, await saved(page, 'settings.toml'))
      const run = (...args) => execFileSync(of('holdfast'), [...args, of('practice.xlsx'), '--settings', settings], { maxBuffer: 1 << 28, stdio: ['ignore', 'pipe', 'ignore'] })
      for (const w of sameNumbers(await saved(page, 'audit.csv'), run('audit', '--format', 'csv'))) wrong.push('figures: ' + w)
      const listed = run('check', '--format', 'csv').toString().replaceAll(of('practice.xlsx'), 'practice.xlsx')
      if ((await saved(page, 'to-do.csv')).toString() !== listed) wrong.push('the rows to look up are not those of the command')
      for (const form of ['report.html', 'report.pdf']) {
        const content = await saved(page, form)
        fs.writeFileSync(of('page-' + form), content)
        if (content.length < 20000) wrong.push(`${form} has ${content.length} bytes`)
      }
      const kept = await page.evaluate(async () => {
        const count = s => { try { return s().length } catch { return 0 } }
        return count(() => localStorage) + count(() => sessionStorage) + document.cookie.length + (window.indexedDB && indexedDB.databases ? (await indexedDB.databases().catch(() => [])).length : 0) +
          (window.caches ? (await caches.keys().catch(() => [])).length : 0)
      })
      if (kept) wrong.push('something is kept in the browser')
      await page.emulateMediaType('print')
      const printed = await page.$eval('main', e => e.innerText)
      if (/Choose your table|Show the answer|Take out/.test(printed) || !/at 10 years/.test(printed)) wrong.push('print holds more or less than the answer')
      await picture(page, 'page-print')
    }
    report(`${name}, the example workbook`, wrong)
    await page.close()
  }
}

// theConnection shows that the page's policy lets nothing out, whatever runs in it.
async function theConnection (browser) {
  const page = await opened(browser)
  const wrong = page.wrong
  page.removeAllListeners('request')
  page.removeAllListeners('console')
  const out = await page.evaluate(async () => {
    const went = []
    const refused = []
    document.addEventListener('securitypolicyviolation', e => refused.push(e.effectiveDirective))
    await fetch('http://127.0.0.1:9/').then(() => went.push('fetch'), () => {})
    try { new WebSocket('ws://127.0.0.1:9/') } catch {}
    navigator.sendBeacon('http://127.0.0.1:9/', 'x')
    new Image().src = 'http://127.0.0.1:9/x.png'
    const frame = document.createElement('iframe')
    frame.src = 'http://127.0.0.1:9/'
    document.body.append(frame)
    const script = document.createElement('script')
    script.textContent = 'window.gotIn = true'
    document.body.append(script)
    const form = document.createElement('form')
    form.action = 'http://127.0.0.1:9/'
    form.target = '_blank'
    document.body.append(form)
    form.submit()
    for (let i = 0; i < 100 && new Set(refused).size < 5; i++) await new Promise(resolve => setTimeout(resolve, 100)) // they are told in their own time
    return { went, refused: [...new Set(refused)].sort(), gotIn: !!window.gotIn }
  })
  for (const directive of ['connect-src', 'form-action', 'frame-src', 'img-src', 'script-src-elem']) if (!out.refused.includes(directive)) wrong.push(`the policy does not refuse by ${directive}: ${out.refused}`)
  if (out.went.length || out.gotIn) wrong.push('something got out, or in')
  report('connections', wrong)
  await page.close()
}

// awkward are tables that need a choice, or can't be read: the choices to make, by their words, and what is then said.
const awkward = [
  ['ambiguous-dates.csv', ['3/4/2019 is the 3rd of April: day first'], /used/],
  ['two-headings.csv', ['Leave out “Surgery date”'], /used/],
  ['missing-column.csv', ['“revison_date” is the revision date'], /used/]
]
const refused = [
  ['damaged.xlsx', /can’t be read.*damaged\.xlsx/s],
  ['bomb.xlsx', /can’t be read.*bomb\.xlsx/s],
  ['empty.csv', /can’t be read.*the file is empty/s]
]

async function theAwkward (browser) {
  const page = await opened(browser)
  const wrong = page.wrong
  for (const [name, choices, after] of awkward) {
    await page.reload()
    await page.waitForSelector('body[data-ready=yes]', { timeout: 120000 })
    await choose(page, of(name))
    if (!await page.$eval('#answer', b => b.disabled)) wrong.push(`${name}: an answer is offered before anything is settled`)
    for (const w of await accessible(page)) wrong.push(`${name}: ${w}`)
    for (const label of choices) {
      const found = await page.$$eval('#asked select', (all, label) => all.some(s => [...s.options].some(o => {
        if (o.textContent !== label) return false
        s.value = o.value
        return true
      })), label)
      if (!found) wrong.push(`${name}: “${label}” is not offered`)
    }
    await page.click('#again')
    await page.waitForFunction(() => document.getElementById('settled').textContent, { timeout: 60000 })
    await idle(page)
    if (!after.test(await text(page, 'asked'))) wrong.push(`${name}: after choosing it says ${(await text(page, 'asked')).slice(0, 300)}`)
  }
  for (const [name, said] of refused) {
    await page.reload()
    await page.waitForSelector('body[data-ready=yes]', { timeout: 120000 })
    await choose(page, of(name))
    if (!said.test(await text(page, 'choose-wrong'))) wrong.push(`${name}: it says “${await text(page, 'choose-wrong')}”`)
    for (const w of await accessible(page)) wrong.push(`${name}: ${w}`)
    await picture(page, 'page-' + name)
  }
  // Markup in a file's name, headings and words stays text.
  await page.reload()
  await page.waitForSelector('body[data-ready=yes]', { timeout: 120000 })
  // It is dropped, beside what is to be dropped on.
  await page.evaluate(content => {
    const data = new DataTransfer()
    data.items.add(new File([content], '<b>hostile.csv'))
    document.querySelector('footer').dispatchEvent(new DragEvent('drop', { bubbles: true, cancelable: true, dataTransfer: data }))
  }, fs.readFileSync(of('hostile.csv'), 'utf8'))
  await page.waitForFunction(() => !document.getElementById('settle').hidden, { timeout: 60000 })
  await idle(page)
  await page.evaluate(() => document.querySelectorAll('details').forEach(d => { d.open = true }))
  await answer(page)
  if (await page.evaluate(() => window.hurt || document.querySelectorAll('main img, main script, main iframe, main a[href^=javascript]').length)) wrong.push('markup of a table got in')
  if (!(await text(page, 'asked') + await text(page, 'reading') + await text(page, 'answered')).includes('<img src=x')) wrong.push('markup of a table is not shown as text')
  report('awkward, damaged and hostile tables', wrong)
  await page.close()
}

// theLarge is 100,000 rows: the page stays alive, and is done within so many times the command's time.
async function theLarge (browser) {
  const page = await opened(browser)
  const wrong = page.wrong
  const started = Date.now()
  for (const name of ['check', 'audit']) execFileSync(of('holdfast'), [name, of('large.csv'), '--closing-date', '2024-12-31'], { maxBuffer: 1 << 28, stdio: ['ignore', 'pipe', 'ignore'] })
  const command = Date.now() - started
  fs.writeFileSync(of('large.toml'), 'closing_date = 2024-12-31\n')
  await page.evaluate(() => {
    window.longest = 0
    let last = performance.now()
    const tick = () => { const now = performance.now(); window.longest = Math.max(window.longest, now - last); last = now; setTimeout(tick, 10) }
    tick()
    window.bar = 0
    new MutationObserver(() => { window.bar++ }).observe(document.getElementById('progress'), { attributes: true })
  })
  // Stopped in the middle, it can be begun again.
  const input = await page.$('#files')
  await input.uploadFile(of('large.csv'))
  await page.waitForFunction(() => !document.getElementById('busy').hidden, { timeout: 60000 })
  await page.click('#stop')
  await page.waitForFunction(() => document.getElementById('choose-wrong').textContent === 'Stopped. Nothing was changed.', { timeout: 60000 })
  await idle(page)
  const began = Date.now()
  await choose(page, of('large.toml'), of('large.csv'))
  const read = Date.now() - began
  await page.click('#answer')
  await page.waitForFunction(() => !document.getElementById('result').hidden, { timeout: 600000 })
  const answered = Date.now() - began
  await idle(page)
  const { longest, bar } = await page.evaluate(() => ({ longest: window.longest, bar: window.bar }))
  console.log(`100,000 rows: command ${command} ms; page: checked after ${read} ms, answered after ${answered} ms, drawn after ${Date.now() - began} ms; longest standstill ${Math.round(longest)} ms; ${bar} steps of the bar`)
  if (answered > 6 * command) wrong.push(`the answer takes ${(answered / command).toFixed(1)} times as long as check and audit of the command`)
  if (longest > 1000) wrong.push(`the page stands still for ${Math.round(longest)} ms`)
  if (bar < 3) wrong.push('the bar does not move')
  report('100,000 rows', wrong)
  await page.close()
}

// theStart compares how soon a file can be chosen, and how soon the program inside answers, with how soon a program that does
// nothing does in the same page. What is chosen before the program is there is read when it is.
async function theStart (browser, empty) {
  const took = { open: [], ready: [], empty: [] }
  for (let i = 0; i < 5; i++) {
    for (const [name, at, when] of [['open', address, 'open'], ['ready', address, 'ready'], ['empty', 'file://' + path.resolve(empty), 'ready']]) {
      const page = await browser.newPage()
      const began = Date.now()
      await page.goto(at, { waitUntil: [] })
      await page.waitForSelector(`body[data-${when}=yes]`, { timeout: 120000 })
      took[name].push(Date.now() - began)
      await page.close()
    }
  }
  const [open, ready, other] = [took.open, took.ready, took.empty].map(all => all.sort((a, b) => a - b)[2])
  const wrong = open > 3 * other ? ['more than 3 times as long'] : []
  const page = await browser.newPage()
  await page.goto(address, { waitUntil: [] })
  await page.waitForSelector('body[data-open=yes]')
  await page.click('#example')
  await page.waitForFunction(() => !document.getElementById('settle').hidden, { timeout: 120000 })
  await page.close()
  report(`a file can be chosen after ${open} ms, the program answers after ${ready} ms, an empty program after ${other} ms`, wrong)
}

async function main () {
  const size = fs.statSync(file).size
  report(`${(size / (1 << 20)).toFixed(1)} MiB`, size > 12 << 20 ? ['more than 12 MiB'] : [])
  const browser = await puppeteer.launch({ executablePath: process.env.CHROMIUM, args: ['--no-sandbox', '--disable-gpu'], protocolTimeout: 600000 })
  await theExample(browser)
  await theConnection(browser)
  if (!short) {
    await theStart(browser, of('empty.html'))
    await theAwkward(browser)
    await theLarge(browser)
  }
  await browser.close()
  process.exit(bad ? 1 : 0)
}

main().catch(e => { console.error(e); process.exit(1) })
