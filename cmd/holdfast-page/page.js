'use strict'
{
  const byId = id => document.getElementById(id)

  // element makes an element with attributes, properties and listeners, and what is in it.
  const element = (tag, given = {}, ...within) => {
    const e = document.createElement(tag)
    for (const [name, value] of Object.entries(given)) {
      if (name.startsWith('on')) e.addEventListener(name.slice(2), value)
      else if (typeof value === 'boolean') e[name] = value
      else if (value !== null && value !== undefined) e.setAttribute(name, value)
    }
    e.append(...within.filter(w => w !== null && w !== undefined && w !== ''))
    return e
  }
  let named = 0
  const newId = () => 'made-' + ++named

  // Files can be chosen at once. The program stands last in the page, and what it is asked before it is there waits for it.
  const loaded = new Promise(resolve => document.addEventListener('DOMContentLoaded', resolve))

  // --- the program, in a worker -------------------------------------------------------------------------------------------------
  let columns = [] // of an outcomes table
  let worker = null
  let waiting = null // the question that is being answered
  let queue = Promise.resolve()

  const start = () => {
    const source = new Blob([byId('worker-source').textContent], { type: 'text/javascript' })
    const url = URL.createObjectURL(source)
    worker = new Worker(url)
    worker.onmessage = ({ data }) => {
      if (data.kind === 'progress') { progress(...data.result); return }
      const w = waiting
      waiting = null
      if (data.kind === 'ended' && !columns.length) { // it never began, and would not the next time
        if (w) w.refuse(new Error('This browser can’t run the program inside this page. It takes one of 2023 or later (Edge, Chrome, Firefox or Safari) in which WebAssembly is not switched off.'))
        return
      }
      if (data.kind === 'ended') {
        start()
        if (w) w.refuse(new Error('The program inside this page stopped. The table may be too large for this browser; the program to download has no such limit.'))
      } else if (!w) return
      else if (data.kind === 'refused') w.refuse(new Error(data.result))
      else w.answer(data.file || data.result)
    }
    worker.onerror = e => worker.onmessage({ data: { kind: 'ended', result: e.message } })
    const mine = worker
    loaded.then(() => mine.postMessage({ program: byId('program-source').textContent.trim() }))
    queue = Promise.resolve()
    given.forEach(f => { f.sent = false })
    return ask({ do: 'start' }).then(begun => {
      columns = begun.columns
      byId('version').textContent = begun.version
      document.body.dataset.ready = 'yes'
    })
  }

  // ask asks the program one question after another.
  const ask = (question, content) => {
    const mine = worker
    const next = queue.then(() => new Promise((resolve, reject) => {
      if (worker !== mine) { reject(new Error('')); return }
      waiting = { answer: resolve, refuse: reject }
      worker.postMessage({ question, content })
    }))
    queue = next.catch(() => {})
    return next
  }

  // --- what is being done -------------------------------------------------------------------------------------------------------
  let jobs = 0
  const progress = (read, total) => {
    const bar = byId('progress')
    if (total > 0) { bar.max = total; bar.value = read } else bar.removeAttribute('value')
  }

  // busy says what is being done while it is, beside a place where what goes wrong is said.
  const busy = async (doing, wrong, work) => {
    jobs++
    wrong.textContent = ''
    byId('progress').removeAttribute('value')
    const shown = setTimeout(() => { byId('busy').hidden = false; byId('doing').textContent = doing }, 150)
    for (const b of document.querySelectorAll('button:not(#stop)')) b.disabled = true
    try {
      return await work()
    } catch (e) {
      wrong.textContent = e.message
    } finally {
      clearTimeout(shown)
      if (--jobs === 0) {
        byId('busy').hidden = true
        byId('doing').textContent = ''
        for (const b of document.querySelectorAll('button:not(#stop)')) b.disabled = false
        byId('answer').disabled = !ready
      }
    }
  }

  byId('stop').addEventListener('click', () => {
    worker.terminate()
    const w = waiting
    waiting = null
    start()
    if (w) w.refuse(new Error('Stopped. Nothing was changed.'))
    byId('choose-title').focus()
  })

  // --- files --------------------------------------------------------------------------------------------------------------------
  const given = [] // { name, content, holds, sent }
  let settled = {} // with the keys of a settings file
  let ready = false

  const kinds = { operations: 'operations, one row for each joint', revisions: 'a list of revisions', deaths: 'a list of deaths', published: 'published figures' }

  const tables = () => given.filter(f => f.holds === 'operations').map(f => f.name)

  // settings are what is settled, with the lists that were chosen.
  const settings = () => {
    const all = structuredClone(settled)
    for (const holds of ['revisions', 'deaths', 'published']) {
      const names = given.filter(f => f.holds === holds).map(f => f.name)
      if (names.length) all[holds] = names
      else if (all[holds] && !all[holds].includes('none')) delete all[holds]
    }
    return all
  }

  const send = async () => {
    for (const f of given) {
      if (!f.sent) {
        await ask({ do: 'file', name: f.name }, f.content)
        f.sent = true
      }
    }
  }

  const choose = async files => {
    if (!files.length) return
    await busy('Opening ' + files.map(f => f.name).join(', '), byId('choose-wrong'), async () => {
      for (const file of files) {
        const content = await file.arrayBuffer().catch(() => { throw new Error(`${file.name} can’t be opened. Is it a folder, or was it moved?`) })
        if (/\.toml$/i.test(file.name)) {
          const read = await ask({ do: 'settings', name: file.name }, content)
          const lists = { revisions: 'revisions', deaths: 'deaths', published: 'published' }
          for (const holds in lists) {
            for (const name of read[holds] || []) {
              const f = given.find(g => g.name === name.split(/[\\/]/).pop())
              if (f) f.holds = holds
              else if (name !== 'none') listed.push([name.split(/[\\/]/).pop(), holds])
            }
            if (!(read[holds] || []).includes('none')) delete read[holds]
          }
          settled = read
          taken = file.name
          continue
        }
        const old = given.findIndex(f => f.name === file.name)
        const said = listed.find(([name]) => name === file.name)
        const one = { name: file.name, content, holds: said ? said[1] : old >= 0 ? given[old].holds : 'operations', sent: false }
        if (old >= 0) given[old] = one
        else given.push(one)
      }
    })
    showFiles()
    if (given.length) await check()
  }
  let taken = '' // the name of a settings file
  const listed = [] // files that settings name, and what they hold

  const showFiles = () => {
    byId('chosen').replaceChildren(...given.map(f => {
      const id = newId()
      return element('li', {},
        element('label', { for: id }, `${f.name} (${size(f.content.byteLength)}) holds`),
        element('select', { id, onchange: e => { f.holds = e.target.value; check() } },
          ...Object.entries(kinds).map(([value, label]) => element('option', { value, selected: value === f.holds }, label))),
        element('button', { type: 'button', onclick: () => drop(f), 'aria-label': 'Take out ' + f.name }, 'Take out'))
    }))
    if (taken) byId('chosen').append(element('li', {}, `${taken}: its settings are taken${given.length ? '' : '; choose the table too'}`))
  }

  const drop = async f => {
    given.splice(given.indexOf(f), 1)
    await ask({ do: 'forget' })
    given.forEach(g => { g.sent = false })
    showFiles()
    byId('files').value = ''
    byId('files').focus()
    if (tables().length) await check()
    else { byId('settle').hidden = byId('result').hidden = true; settled = {}; ready = false }
  }

  const size = n => n < 1e4 ? n + ' bytes' : n < 1e6 ? Math.round(n / 1e3) + ' kB' : (n / 1e6).toFixed(1) + ' MB'

  byId('files').addEventListener('change', e => choose([...e.target.files]))
  const target = byId('drop')
  for (const [event, over] of [['dragenter', true], ['dragover', true], ['dragleave', false], ['drop', false]]) {
    document.addEventListener(event, e => {
      e.preventDefault() // else the browser would show the file in place of this page
      target.classList.toggle('over', over)
      if (event === 'drop') choose([...e.dataTransfer.files])
    })
  }
  byId('example').addEventListener('click', () => {
    const text = byId('example-source').textContent.replace(/^\n/, '')
    choose([new File([text], 'invented-practice.csv')])
  })

  // --- settling -----------------------------------------------------------------------------------------------------------------
  const setIn = (all, section, key, value) => {
    let at = all
    for (const part of section ? section.split(/\.(.*)/s).filter(Boolean) : []) at = at[part] = at[part] || {}
    at[key] = value
  }
  const takeFrom = (all, section, key) => {
    const parts = section ? section.split(/\.(.*)/s).filter(Boolean) : []
    const path = [all]
    for (const part of parts) {
      if (!path[path.length - 1][part]) return
      path.push(path[path.length - 1][part])
    }
    delete path[path.length - 1][key]
    for (let i = parts.length; i > 0; i--) if (!Object.keys(path[i]).length) delete path[i - 1][parts[i - 1]]
  }

  // controls say what they settle, each when it is asked: { section, key, value } or, to take it back, without a value.
  let controls = []

  const title = name => (columns.find(c => c.name === name) || { title: name.replaceAll('_', ' ') }).title
  const wordsOf = name => (columns.find(c => c.name === name) || {}).words || []

  const labelled = (label, control, hint) => {
    control.id = control.id || newId()
    const all = [element('label', { for: control.id }, label), control]
    if (hint) {
      const said = element('span', { id: newId(), class: 'remark' }, hint)
      control.setAttribute('aria-describedby', said.id)
      all.push(said)
    }
    return element('div', { class: 'choice' }, ...all)
  }

  const select = (options, chosen, given = {}) => element('select', given,
    ...options.map(([value, label]) => element('option', { value, selected: value === chosen }, label)))

  const choiceControl = (choice, about) => {
    const first = choice.options[0]
    if (choice.kind === 'day') {
      const day = element('input', { type: 'date', 'aria-describedby': about })
      controls.push(() => day.value ? [{ ...first, value: day.value }] : [])
      const suggested = element('button', { type: 'button', onclick: () => { day.value = first.value; day.focus() } }, 'Take ' + first.value)
      return element('div', { class: 'choice' }, labelled('Day', day), suggested)
    }
    if (choice.kind === 'several') {
      const boxes = choice.options.map(o => {
        const box = element('input', { type: 'checkbox' })
        box.id = newId()
        return { box, o }
      })
      controls.push(() => {
        const names = boxes.filter(b => b.box.checked).map(b => b.o.value)
        return names.length ? [{ ...first, value: names }] : []
      })
      return element('fieldset', {}, element('legend', {}, 'Which of them?'),
        element('div', { class: 'fields' }, ...boxes.map(b => element('span', {}, b.box, ' ', element('label', { for: b.box.id }, b.o.label)))))
    }
    let options
    if (choice.kind === 'word') options = [['', 'not settled yet'], ...wordsOf(choice.column).map(w => [w, w])]
    else options = [['', 'not settled yet'], ...choice.options.map((o, i) => [String(i), o.label])]
    const control = select(options, '', { 'aria-describedby': about })
    controls.push(() => {
      if (!control.value) return []
      return [choice.kind === 'word' ? { ...first, value: control.value } : choice.options[Number(control.value)]]
    })
    return labelled(choice.kind === 'word' ? `“${choice.about}” means` : choice.about ? `“${choice.about}”` : 'Your answer', control)
  }

  const showCheck = checked => {
    controls = []
    ready = checked.ready
    byId('asked').replaceChildren(...checked.parts.flatMap(part => {
      const all = []
      if (part.title) all.push(element('h3', {}, part.title))
      if (part.asks) {
        all.push(element('ol', { class: 'asks' }, ...part.asks.map(thing => {
          const about = newId()
          return element('li', {}, element('p', { id: about }, thing.text), ...(thing.choices || []).map(c => choiceControl(c, about)))
        })))
      }
      if (part.html) {
        const held = element('div')
        held.innerHTML = part.html
        all.push(held)
      }
      return all
    }))
    showSettled()
    byId('reading').replaceChildren(...reading(checked))
    byId('read').hidden = !checked.headings
    byId('toml').textContent = checked.settings
    byId('file').hidden = !checked.settings
    byId('not-yet').hidden = ready
    byId('answer').disabled = !ready
  }

  // flat are the settings one by one.
  const flat = () => {
    const all = []
    for (const [key, value] of Object.entries(settled)) {
      if (value === null || typeof value !== 'object' || Array.isArray(value)) all.push({ section: '', key, value })
      else if (key === 'words') for (const column in value) for (const typed in value[column]) all.push({ section: 'words.' + column, key: typed, value: value[column][typed] })
      else for (const name in value) all.push({ section: key, key: name, value: value[name] })
    }
    return all
  }
  const said = s => {
    const value = Array.isArray(s.value) ? s.value.join(', ') : String(s.value)
    if (s.section === 'columns') return s.value ? `“${s.key}” is the ${title(value)}` : `“${s.key}” is left out`
    if (s.section.startsWith('words.')) return `“${s.key}” under ${title(s.section.slice(6))} is ${value}`
    if (s.section === 'assume') return `The ${title(s.key)} of all rows is ${value}`
    if (s.section === 'where') return `Only rows whose ${title(s.key)} is ${value}`
    return `${(names[s.key] || s.key.replaceAll('_', ' '))}: ${value}`
  }
  const names = {
    closing_date: 'Day to which follow-up is complete', deaths_complete_to: 'Day to which deaths are known', date_order: 'Order of day and month',
    pivot: 'Two-digit years below this are 20..', by: 'Groups', age_bands: 'Age bands begin at', sheet: 'Sheets', revisions_sheet: 'Sheet of revisions', deaths_sheet: 'Sheet of deaths'
  }
  const showSettled = () => {
    const all = flat()
    byId('settled').replaceChildren(...!all.length ? [] : [
      element('h3', {}, 'Settled so far'),
      element('ul', { class: 'taken' }, ...all.map(s => element('li', {}, said(s),
        element('button', { type: 'button', 'aria-label': 'Take back: ' + said(s), onclick: () => { takeFrom(settled, s.section, s.key); check() } }, 'Take back'))))
    ])
  }

  // reading shows how everything was understood, with a control for each.
  const reading = checked => {
    if (!checked.headings) return []
    const part = []
    const setting = (key, control, same) => {
      controls.push(() => control.value === same ? [] : [{ section: '', key, value: control.type === 'number' && control.value ? Number(control.value) : control.value, none: control.value === '' }])
      return control
    }
    const days = element('fieldset', {}, element('legend', {}, 'Days'))
    const closing = settled.closing_date || ''
    days.append(labelled(names.closing_date, setting('closing_date', dated(closing), closing), closing ? '' : 'now ' + checked.closing + ', the latest day of the table'))
    const order = settled.date_order || ''
    days.append(labelled('3/4/2019 is', setting('date_order', select([['', 'as the table’s other dates show'], ['day-first', 'the 3rd of April'], ['month-first', 'the 4th of March']], order), order)))
    const pivot = settled.pivot === undefined ? '' : String(settled.pivot)
    days.append(labelled('Two-digit years are of this century below', setting('pivot', element('input', { type: 'number', min: 0, max: 99, value: pivot }), pivot), 'empty: they are not read'))
    const deaths = settled.deaths_complete_to || ''
    days.append(labelled(names.deaths_complete_to, setting('deaths_complete_to', dated(deaths), deaths), 'if that is earlier'))
    part.push(days)

    const lacks = [...new Set([...(checked.lacks || []), ...Object.keys(settled.assume || {})])].filter(c => wordsOf(c).length)
    if (lacks.length) {
      part.push(element('fieldset', {}, element('legend', {}, 'What is so for all rows, where the table does not say it'), ...lacks.map(column => {
        const now = (settled.assume || {})[column] || ''
        const control = select([['', 'not said'], ...wordsOf(column).map(w => [w, w])], now)
        controls.push(() => control.value === now ? [] : [{ section: 'assume', key: column, value: control.value, none: !control.value }])
        return labelled('The ' + title(column) + ' is', control)
      })))
    }
    if (checked.fields) part.push(groups(checked.fields))
    part.push(element('h3', {}, 'Headings'), headingsTable(checked.headings))
    if (checked.words) part.push(element('h3', {}, 'Words'), wordsTable(checked.words))
    part.push(element('p', { class: 'buttons' }, element('button', { type: 'button', onclick: () => check() }, 'Check again with these choices')))
    return part
  }
  const dated = value => {
    const day = element('input', { type: 'date' })
    day.value = value
    return day
  }

  const groups = fields => {
    const usual = ['bearing', 'fixation', 'age_band']
    const now = settled.by || usual
    const boxes = fields.filter(f => f !== 'joint' && f !== 'procedure' && f !== 'revision_reason').map(f => {
      const box = element('input', { type: 'checkbox', checked: now.includes(f) })
      box.id = newId()
      return { f, box }
    })
    controls.push(() => {
      const by = boxes.filter(b => b.box.checked).map(b => b.f)
      const had = boxes.filter(b => now.includes(b.f)).map(b => b.f)
      if (by.join() === had.join()) return []
      return [{ section: '', key: 'by', value: by.length ? by : ['none'] }]
    })
    return element('fieldset', {}, element('legend', {}, names.by),
      element('div', { class: 'fields' }, ...boxes.map(b => element('span', {}, b.box, ' ', element('label', { for: b.box.id }, title(b.f))))))
  }

  const table = (caption, heads, rows) => {
    const id = newId()
    return element('div', { class: 'wide', role: 'region', tabindex: 0, 'aria-labelledby': id }, element('table', {},
      element('caption', { id, class: 'unseen' }, caption),
      element('thead', {}, element('tr', {}, ...heads.map(h => element('th', { scope: 'col' }, h)))),
      element('tbody', {}, ...rows)))
  }

  const headingsTable = headings => {
    const files = [...new Set(headings.map(h => h.file))]
    const all = [['', 'no column: kept under its own name'], ['-', 'leave it out'], ...columns.map(c => [c.name, c.title])]
    const under = headings.some(h => h.under)
    return element('div', {}, ...files.map(file => table('Headings of ' + file, ['Heading', 'Taken for', 'Rows filled', ...(under ? ['Commonest values'] : [])],
      headings.filter(h => h.file === file).map(h => {
        const now = h.out ? '-' : h.column
        const control = select(all, now, { 'aria-label': `${h.typed} is taken for` })
        controls.push(() => control.value === now ? [] : [{ section: 'columns', key: h.typed, value: control.value === '-' ? '' : control.value, none: !control.value && !h.column }])
        return element('tr', {}, element('th', { scope: 'row' }, h.typed), element('td', {}, control), element('td', {}, h.filled), under ? element('td', { class: 'under' }, h.under) : null)
      }))))
  }

  const wordsTable = all => element('div', {}, ...all.filter(w => wordsOf(w.column).length).map(w => {
    const held = element('details', {}, element('summary', {}, title(w.column)))
    const rows = w.words.map(word => {
      const known = wordsOf(w.column)
      const now = known.includes(word.value) ? word.value : ''
      const control = select([['', 'not understood: ' + w.until], ...known.map(v => [v, v])], now, { 'aria-label': `${word.typed}, under ${title(w.column)}, means` })
      controls.push(() => control.value === now || !control.value ? [] : [{ section: 'words.' + w.column, key: word.typed, value: control.value }])
      return element('tr', {}, element('th', { scope: 'row' }, word.typed), element('td', {}, control), element('td', { class: 'right' }, String(word.rows)))
    })
    held.append(table('Words under ' + title(w.column), ['As typed', 'Taken for', 'Rows'], rows))
    if (w.more) held.append(element('p', { class: 'remark' }, `and ${w.more} more, each in fewer rows`))
    return held
  }))

  // collect takes what the controls say into what is settled.
  const collect = () => {
    for (const say of controls) {
      for (const s of say()) {
        if (s.none) takeFrom(settled, s.section, s.key)
        else setIn(settled, s.section, s.key, s.value)
      }
    }
    controls = []
  }

  // check reads the tables and shows what is left to settle.
  const check = async () => {
    collect()
    if (!tables().length) return
    const wrong = byId('settle').hidden ? byId('choose-wrong') : byId('settle-wrong')
    await busy('Reading ' + tables().join(', '), wrong, async () => {
      await send()
      const checked = await ask({ do: 'check', tables: tables(), settings: settings() })
      if (checked.refused) {
        byId('settle').hidden = byId('result').hidden = true
        byId('choose-wrong').textContent = 'This can’t be read. ' + checked.refused
        return
      }
      byId('choose-wrong').textContent = ''
      byId('settle').hidden = false
      showCheck(checked)
      byId('stale').hidden = false
      byId('settle-title').focus()
    })
    if (byId('choose-wrong').textContent) byId('files').focus()
  }
  byId('again').addEventListener('click', check)

  // --- the answer ---------------------------------------------------------------------------------------------------------------
  byId('answer').addEventListener('click', async () => {
    if (controls.some(say => say().length)) await check()
    if (!ready) return
    await busy('Working out the answer', byId('settle-wrong'), async () => {
      const about = { tables: tables(), settings: settings() }
      const answer = await ask({ do: 'audit', ...about })
      byId('answered').innerHTML = answer.html
      byId('drawn').replaceChildren()
      byId('stale').hidden = true
      byId('result').hidden = false
      byId('saved').textContent = ''
      byId('result-title').focus()
      byId('doing').textContent = 'Drawing the figures'
      byId('drawn').innerHTML = (await ask({ do: 'figures', ...about })).html
    })
  })

  // --- saving -------------------------------------------------------------------------------------------------------------------
  for (const b of document.querySelectorAll('[data-form]')) {
    b.addEventListener('click', () => busy('Writing ' + b.dataset.form, b.closest('#result') ? byId('save-wrong') : byId('settle-wrong'), async () => {
      const file = await ask({
        do: 'save', form: b.dataset.form, tables: tables(), settings: settings(),
        whose: byId('whose').value.trim(), year: byId('year').value.trim(), full: byId('full').checked
      })
      const stem = tables()[0].replace(/\.[^.]*$/, '')
      const name = stem + (b.dataset.form === 'settings.toml' ? '.toml' : '-' + b.dataset.form)
      const url = URL.createObjectURL(new Blob([file], { type: 'application/octet-stream' }))
      element('a', { href: url, download: name }).click()
      setTimeout(() => URL.revokeObjectURL(url), 60000)
      byId('saved').textContent = `${name} is in the folder for downloads.`
    }))
  }

  byId('licences').textContent = byId('licences-source').textContent.trim()
  start().catch(e => { byId('choose-wrong').textContent = e.message })
  document.body.dataset.open = 'yes'
}
