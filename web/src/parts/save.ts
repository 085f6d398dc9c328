// Saving something as a file.

/** Save bytes under a name. */
export function saveBlob(blob: Blob, name: string): void {
  const a = document.createElement('a');
  a.href = URL.createObjectURL(blob);
  a.download = name;
  a.click();
  setTimeout(() => URL.revokeObjectURL(a.href), 10_000);
}

/** A file name out of words: lower case, joined by hyphens. */
export function fileName(...words: string[]): string {
  return words
    .map((w) =>
      w
        .toLowerCase()
        .replace(/[^\p{L}\p{N}]+/gu, '-')
        .replace(/^-|-$/g, ''),
    )
    .filter(Boolean)
    .join('-');
}
