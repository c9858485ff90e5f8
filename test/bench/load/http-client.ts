/**
 * Asks for the same over several connections, one request behind the other on each, and says how many answers came a
 * second. A process of its own, which writes and reads HTTP/1.1 in bytes: a library would be measured more than the
 * server. Prints one line of JSON (`Answered`).
 */
import { once } from 'node:events';
import { connect, type Socket } from 'node:net';
import { setTimeout as wait } from 'node:timers/promises';

export interface AskOptions {
  port: number;
  path: string;
  connections: number;
  seconds: number;
  /** Before what is counted, seconds. */
  warmUpS: number;
}

export interface Answered {
  /** While it was counted. */
  count: number;
  /** With those before. */
  inAll: number;
  perSecond: number;
  bytes: number;
  /** Processor time of this process, share of one core. */
  ownShare: number;
}

const HEAD_ENDS = '\r\n\r\n';

function askOn(socket: Socket, path: string, onAnswer: (bytes: number) => void): void {
  const request = `GET ${path} HTTP/1.1\r\nhost: 127.0.0.1\r\n\r\n`;
  /** Of the answer under way; while its head has not come whole, the head. */
  let missing = 0;
  let head = '';
  let length = 0;
  socket.on('data', (data: Buffer) => {
    let body = data.length;
    if (missing === 0) {
      head += data.toString('latin1');
      const ends = head.indexOf(HEAD_ENDS);
      if (ends < 0) return;
      if (!head.startsWith('HTTP/1.1 200')) throw new Error(head.slice(0, ends));
      length = Number(/\r\ncontent-length: (\d+)/i.exec(head)![1]);
      missing = length;
      body = head.length - ends - HEAD_ENDS.length;
      head = '';
    }
    missing -= body;
    if (missing > 0) return;
    onAnswer(length);
    socket.write(request);
  });
  socket.write(request);
}

async function run({ port, path, connections, seconds, warmUpS }: AskOptions): Promise<Answered> {
  let count = 0;
  let bytes = 0;
  const sockets: Socket[] = [];
  for (let i = 0; i < connections; i++) {
    const socket = connect(port, '127.0.0.1').setNoDelay(true);
    await once(socket, 'connect');
    sockets.push(socket);
    askOn(socket, path, (length) => {
      count++;
      bytes = length;
    });
  }
  await wait(warmUpS * 1000);
  const [from, fromCount, cpu] = [performance.now(), count, process.cpuUsage()];
  await wait(seconds * 1000);
  const took = (performance.now() - from) / 1000;
  const { user, system } = process.cpuUsage(cpu);
  const answered = count - fromCount;
  for (const socket of sockets) socket.destroy();
  return {
    count: answered,
    inAll: count,
    perSecond: answered / took,
    bytes,
    ownShare: (user + system) / 1e6 / took,
  };
}

process.stdout.write(`${JSON.stringify(await run(JSON.parse(process.argv[2]!) as AskOptions))}\n`, () =>
  process.exit(),
);
