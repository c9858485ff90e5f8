/** A broker made of nothing but the library that the daemon uses. Prints its port. */
import { once } from 'node:events';
import { createServer } from 'node:net';
import { Aedes } from 'aedes';

const aedes = await Aedes.createBroker();
const server = createServer((socket) => {
  socket.setNoDelay(true);
  aedes.handle(socket);
}).listen(0, '127.0.0.1');
await once(server, 'listening');
process.stdout.write(`${(server.address() as { port: number }).port}\n`);
