export { ALPHANUMERIC, checkCharacter, checks } from './check-character.js';
export { codeKey, codeOf, codeText, readScan, symbolText, type Scan } from './code.js';
export { numbered } from './numbering.js';
export { LEAST_MODULE_MM, pageSvg, pagesOf, perPage, requireStock, rollOf, type LabelContent, type LabelStock, type SymbolDrawing } from './sheet.js';
