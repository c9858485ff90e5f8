import { writeSync } from 'node:fs';
import { openStore } from '../../../daemon/store/open.ts';
import { packUnits, unpackResults } from '../../../daemon/store/packed-units.ts';
import { openWritable } from '../../../daemon/store/sqlite/database.ts';
import { SqliteWriter } from '../../../daemon/store/sqlite/writer.ts';
import type { Store } from '../../../daemon/store/store.ts';
import { reading } from './entries.ts';

/**
 * A process that writes groups of readings and says `stored SEQ` on stdout after each, SEQ being the last
 * of its group: `DIR FIRST-SEQ GROUPS GROUP-SIZE [normal|sealing]`. With `normal` it leaves out the wait for the
 * disk, as the product never does; with `sealing` it seals after every third group, before it says so.
 */
const [dir, firstSeq, groups, groupSize, mode] = process.argv.slice(2);

async function open(): Promise<Pick<Store, 'write' | 'seal' | 'close'>> {
  if (mode !== 'normal') return openStore(dir!);
  const opened = openWritable(dir!);
  opened.database.pragma('synchronous = NORMAL');
  const writer = new SqliteWriter(opened);
  return {
    write: async (units) => unpackResults(writer.write(packUnits(units))),
    seal: async () => false,
    close: async () => writer.close(),
  };
}

const store = await open();
let seq = Number(firstSeq);
for (let group = 0; group < Number(groups); group++) {
  const entries = Array.from({ length: Number(groupSize) }, () =>
    reading({ atMs: 1000 * seq, value: seq, seq: seq++ }),
  );
  await store.write([{ site: 'barn', entries }]);
  if (mode === 'sealing' && group % 3 === 2) await store.seal('barn', Number.MAX_SAFE_INTEGER);
  writeSync(1, `stored ${seq - 1}\n`);
}
await store.close();
