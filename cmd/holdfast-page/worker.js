// Runs the program beside the page, so that the page never stands still. The program reads questions from its standard input and
// writes answers to its standard output, as package page says; here they come from the page and go to it, as messages.
'use strict'
{
  const pending = [] // what the program has not yet read
  let asking = null // a read that waits for more
  const give = () => {
    if (!asking || !pending.length) return
    const { buffer, offset, length, callback } = asking
    asking = null
    const part = pending[0].subarray(0, length)
    buffer.set(part, offset)
    if (part.length === pending[0].length) pending.shift()
    else pending[0] = pending[0].subarray(part.length)
    callback(null, part.length)
  }
  globalThis.fs.read = (fd, buffer, offset, length, position, callback) => {
    asking = { buffer, offset, length, callback }
    give()
  }

  let line = [] // parts of the line of an answer
  let said = null // that line, when it is whole
  let file = null
  let got = 0
  const reply = () => {
    postMessage({ ...said, file }, file ? [file.buffer] : [])
    said = file = null
  }
  const take = bytes => {
    while (bytes.length) {
      if (!said) {
        const end = bytes.indexOf(10)
        line.push(bytes.slice(0, end < 0 ? bytes.length : end))
        if (end < 0) return
        bytes = bytes.subarray(end + 1)
        const whole = new Uint8Array(line.reduce((n, p) => n + p.length, 0))
        line.reduce((n, p) => { whole.set(p, n); return n + p.length }, 0)
        line = []
        said = JSON.parse(new TextDecoder().decode(whole))
        if (!said.size) { reply(); continue }
        file = new Uint8Array(said.size)
        got = 0
      }
      const part = bytes.subarray(0, said.size - got)
      file.set(part, got)
      got += part.length
      bytes = bytes.subarray(part.length)
      if (got === said.size) reply()
    }
  }
  let last = ''
  globalThis.fs.write = (fd, bytes, offset, length, position, callback) => {
    const part = bytes.subarray(offset, offset + length)
    if (fd === 1) take(part)
    else last = (last + new TextDecoder().decode(part)).slice(-4000)
    callback(null, length)
  }

  const run = async base64 => {
    let packed
    if (Uint8Array.fromBase64) packed = Uint8Array.fromBase64(base64)
    else {
      const text = atob(base64)
      packed = new Uint8Array(text.length)
      for (let i = 0; i < text.length; i++) packed[i] = text.charCodeAt(i)
    }
    const unpacked = new Response(packed).body.pipeThrough(new DecompressionStream('gzip'))
    const go = new Go()
    const { instance } = await WebAssembly.instantiateStreaming(new Response(unpacked, { headers: { 'Content-Type': 'application/wasm' } }), go.importObject)
    await go.run(instance)
    throw new Error(last)
  }
  onmessage = ({ data }) => {
    if (data.program) {
      run(data.program).catch(e => postMessage({ kind: 'ended', result: String(e.message || e) }))
      return
    }
    pending.push(new TextEncoder().encode(JSON.stringify({ ...data.question, Size: data.content ? data.content.byteLength : 0 }) + '\n'))
    if (data.content && data.content.byteLength) pending.push(new Uint8Array(data.content))
    give()
  }
}
