// Changes by hand, as they go to the server. Every open page and recipe then shows the season as it is.
import { link } from '../link';
import type { Changed, Edit } from '../protocol';
import { say } from '../say';

/** Ask for a change; what keeps it from being made is said to the reader. Gives undefined then. */
export async function change(
  type: 'change' | 'split' | 'merge' | 'recut' | 'rename' | 'remove',
  fields: object,
): Promise<Changed | undefined> {
  try {
    return await link.ask<Changed>(type, fields);
  } catch (e) {
    say((e as Error).message);
    return undefined;
  }
}

/** The edits that a form makes: one for each field whose text is another than before. */
export function editsOf(
  target: Edit['target'],
  subject: string,
  before: Record<string, string>,
  after: Record<string, string>,
): Edit[] {
  return Object.entries(after).flatMap(([field, text]) => {
    const value = text.trim();
    return value === (before[field] ?? '') ? [] : [{ target, subject, field, value }];
  });
}

/** What the fields of a form hold, by name. */
export function fieldsOf(form: HTMLFormElement): Record<string, string> {
  return Object.fromEntries([...new FormData(form)].map(([name, value]) => [name, String(value)]));
}
