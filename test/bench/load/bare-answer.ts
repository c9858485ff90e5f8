/**
 * What an acknowledgement cannot do without: takes bytes over loopback, commits a row with full sync, answers. Prints
 * its port, and ends with its input.
 */
import { once } from 'node:events';
import { createServer } from 'node:net';
import { join } from 'node:path';
import Database from 'better-sqlite3';

const { data } = JSON.parse(process.argv[2]!) as { data: string };
const database = new Database(join(data, 'bare.db'));
database.pragma('journal_mode = WAL');
database.pragma('synchronous = FULL');
database.exec('CREATE TABLE reading (channel INTEGER, at INTEGER, value REAL)');
const insert = database.prepare('INSERT INTO reading VALUES (1, ?, 55.5)');
let at = 0;
const server = createServer((socket) => {
  socket.setNoDelay(true);
  socket.on('data', () => {
    insert.run(at++);
    socket.write(Buffer.alloc(4));
  });
}).listen(0, '127.0.0.1');
await once(server, 'listening');
process.stdout.write(`${(server.address() as { port: number }).port}\n`);
process.stdin.resume();
await once(process.stdin, 'end');
process.exit();
