// Google Sheets hands over "" for a blank cell, a Date for a date, and a text such as #N/A for an error value.
const sheetsCell_ = (cell) => {
  if (cell === "") return null;
  if (cell instanceof Date) return (cell.getTime() - cell.getTimezoneOffset() * 60000) / 86400000 + 25569; // its serial number
  if (typeof cell === "string" && /^#(N\/A|NUM!|VALUE!|DIV\/0!|REF!|NAME\?|NULL!|ERROR!)$/.test(cell)) {
    return new brewfuncs_.BrewError(cell, `an argument is the error ${cell}`);
  }
  return cell;
};

// A script can't put an error value into a cell; what it throws is shown as #ERROR! with the sentence. So one element
// without an answer makes the whole call an error that says which: never a text in a number's place.
function sheets_(name, values) {
  const given = values.map((value) => (Array.isArray(value) ? value.map((row) => row.map(sheetsCell_)) : value === undefined ? value : sheetsCell_(value)));
  const answer = brewfuncs_.apply(name, given), rows = Array.isArray(answer) ? answer : [[answer]];
  rows.forEach((row, r) => row.forEach((cell, c) => {
    if (cell instanceof brewfuncs_.BrewError) throw new Error((Array.isArray(answer) ? `row ${r + 1}, column ${c + 1}: ` : "") + cell.message);
  }));
  return answer;
}
