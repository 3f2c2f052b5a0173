/** An error value of a cell: `code` such as "#NUM!", and as its message the sentence that says why. */
export declare class BrewError extends Error {
  constructor(code: string, sentence: string);
  readonly code: string;
}
/** A number, a text (a word, or a quantity such as "5.5 kg"), true or false, null for a blank cell, or an error value. */
export type Cell = number | string | boolean | null | BrewError;
/** A cell or a list of rows of cells; a flat list is a column. undefined is an argument left out. */
export type Argument = Cell | Cell[] | Cell[][] | undefined;
/** The answer; answers in the shape of the ranges given. Errors are returned, not thrown. */
export type Result = number | string | BrewError | (number | string | BrewError)[][];

export interface Apply {
  // one for each function
  (name: string, values: Argument[]): Result;
}
/** A function called the way a sheet does. */
export declare const apply: Apply;
export interface Declared {
  parameters: { name: string; unit: string; required: boolean; words?: string[]; low?: number; high?: number }[];
  /** of the answer */
  unit?: string;
  source: string;
}
export declare const functions: Record<string, Declared>;
export declare const version: string;
