// Runs the statements on standard input in DuckDB and prints the rows of the last one as CSV.
const { DuckDBInstance } = require(process.env.HOLDFAST_DUCKDB + '/node_modules/@duckdb/node-api');
const fs = require('fs');
(async () => {
  const db = await (await DuckDBInstance.create(':memory:')).connect();
  let last;
  for (const statement of fs.readFileSync(0, 'utf8').split(/;\s*\n/)) {
    if (statement.trim()) last = await db.runAndReadAll(statement);
  }
  const cell = (v) => v === null ? '' : /[",\n]/.test(String(v)) ? '"' + String(v).replaceAll('"', '""') + '"' : String(v);
  for (const row of last.getRows()) console.log(row.map(cell).join(','));
})().catch((e) => { console.error(String(e)); process.exit(1); });
