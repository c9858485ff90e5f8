/**
 * What the daemon would have to do for an answer if all of it lay ready: Fastify alone, which serialises an object.
 * Takes the objects from a daemon, by its paths, and answers with them at the same paths.
 */
import Fastify from 'fastify';

const { from, paths } = JSON.parse(process.argv[2]!) as { from: number; paths: string[] };
const app = Fastify();
for (const path of paths) {
  const answer = await (await fetch(`http://127.0.0.1:${from}${path}`)).json();
  app.get(path.replace(/\?.*/, ''), async () => answer);
}
const address = await app.listen({ host: '127.0.0.1', port: 0 });
process.stdout.write(`${new URL(address).port}\n`);
