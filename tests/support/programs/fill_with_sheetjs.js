// node fill_with_sheetjs.js FORM ENTRIES.json OUT: SheetJS loads the form, puts the entries into its cells, saves it.
"use strict";
const XLSX = require("xlsx");
const { readEntries, splitReference } = require("./entries.js");

const DAY = 24 * 60 * 60 * 1000;
const DAY_ZERO = Date.UTC(1899, 11, 30);

/** The cell that holds a value; its number format stays. */
function cellOf(value, old) {
  const format = old && old.z ? { z: old.z } : {};
  if (value instanceof Date) return { t: "n", v: (value.getTime() - DAY_ZERO) / DAY, z: "yyyy-mm-dd" };
  return typeof value === "number" ? { t: "n", v: value, ...format } : { t: "s", v: value, ...format };
}

function main([form, entries, out]) {
  const book = XLSX.readFile(form, { cellStyles: true, cellNF: true, cellFormula: true, sheetStubs: true, bookVBA: true });
  const places = new Map(book.Workbook.Names.map((each) => [each.Name, each.Ref]));
  for (const [name, value] of readEntries(entries)) {
    const [title, address] = splitReference(places.get(name));
    const sheet = book.Sheets[title];
    if (value === null) sheet[address] = { t: "z" };
    else sheet[address] = cellOf(value, sheet[address]);
  }
  XLSX.writeFile(book, out, { cellStyles: true, bookSST: true });
}

main(process.argv.slice(2));
