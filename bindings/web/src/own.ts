/**
 * What a record has under a name that a document brings: `constructor` and `__proto__` are names like any other, of
 * which an object knows something that nobody told it.
 */
export function own<T>(record: { readonly [name: string]: T }, name: string): T | undefined {
  return Object.prototype.hasOwnProperty.call(record, name) ? record[name] : undefined;
}
