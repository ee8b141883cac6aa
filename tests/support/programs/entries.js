// What the two fillers share: entries by defined name, as tests/support/other_programs.py writes them down.
"use strict";
const fs = require("fs");

/** [name, number | text | Date | null] pairs of a JSON file; a date is {"date": "2026-03-02"}. */
exports.readEntries = (path) =>
  Object.entries(JSON.parse(fs.readFileSync(path, "utf8"))).map(([name, value]) => [
    name,
    value !== null && typeof value === "object" ? new Date(`${value.date}T00:00:00Z`) : value,
  ]);

/** Sheet title and address of a reference to one cell, such as 'Fuel and air'!$B$7. */
exports.splitReference = (reference) => {
  const at = reference.lastIndexOf("!");
  const title = reference.slice(0, at).replace(/^'|'$/g, "").replace(/''/g, "'");
  return [title, reference.slice(at + 1).replace(/\$/g, "")];
};
