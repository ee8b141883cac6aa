// node fill_with_exceljs.js FORM ENTRIES.json OUT: ExcelJS loads the form, puts the entries into its cells, saves it.
"use strict";
const ExcelJS = require("exceljs");
const { readEntries, splitReference } = require("./entries.js");

async function main([form, entries, out]) {
  const book = new ExcelJS.Workbook();
  await book.xlsx.readFile(form);
  for (const [name, value] of readEntries(entries)) {
    const [title, address] = splitReference(book.definedNames.getRanges(name).ranges[0]);
    book.getWorksheet(title).getCell(address).value = value;
  }
  await book.xlsx.writeFile(out);
}

main(process.argv.slice(2)).catch((problem) => {
  console.error(problem);
  process.exit(1);
});
