// Groups of serves that somebody chose and named. The season keeps them; every page shows the same.
import { signal } from '@preact/signals';
import { link } from './link';
import type { Group } from './protocol';

export const groups = signal<Group[]>([]);

const take = (all: Group[]) => {
  groups.value = all;
};

export const greet = async (): Promise<void> => take(await link.ask<Group[]>('groups'));

export function listen(): void {
  link.on('groups', take);
}

/** Keep serves under a name, in place of the group that had it. */
export const keep = async (name: string, serves: string[]): Promise<void> =>
  take(await link.ask<Group[]>('group', { name, serves }));

/** Forget a group; its serves stay. */
export const forget = async (name: string): Promise<void> => take(await link.ask<Group[]>('ungroup', { name }));

/** The group that holds exactly these serves. */
export function groupOf(serves: ReadonlySet<string>, all: Group[]): Group | undefined {
  return all.find(
    (g) => g.serves.length > 0 && g.serves.length === serves.size && g.serves.every((s) => serves.has(s)),
  );
}
