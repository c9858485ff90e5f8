import { once } from 'node:events';
import { type AddressInfo, connect, createServer, type Server, type Socket } from 'node:net';
import { LOOPBACK } from './serving.ts';

interface Pair {
  near: Socket;
  far: Socket;
}

/**
 * A way to a port that is always there, even while nobody listens at its other end, and fails as networks do.
 * Whoever connects through it is `near`, whom it leads to is `far`.
 */
export class Link {
  /** Where it leads; null: to nobody, and who connects is cut off. */
  to: number | null;
  readonly #server: Server;
  readonly #pairs = new Set<Pair>();
  /** Ends that were not told that the other has gone. */
  readonly #left = new Set<Socket>();
  #stalled = false;

  private constructor(to: number | null) {
    this.to = to;
    this.#server = createServer((near) => this.#join(near));
  }

  static async open(to: number | null): Promise<Link> {
    const link = new Link(to);
    link.#server.listen(0, LOOPBACK);
    await once(link.#server, 'listening');
    return link;
  }

  get port(): number {
    return (this.#server.address() as AddressInfo).port;
  }

  /** Both ends are told that the other has gone. */
  cut(): void {
    for (const { near, far } of this.#pairs) {
      near.destroy();
      far.destroy();
    }
  }

  /** Nothing goes through, and nobody is told; what was sent meanwhile comes once it flows again. */
  stall(): void {
    this.#stalled = true;
    for (const { near, far } of this.#pairs) for (const socket of [near, far]) socket.unpipe().pause();
  }

  flow(): void {
    this.#stalled = false;
    for (const { near, far } of this.#pairs) near.pipe(far).pipe(near);
  }

  /** One end has gone, and the other is never told: what it sends is read by nobody. */
  leave(which: keyof Pair): void {
    for (const pair of this.#pairs) {
      this.#pairs.delete(pair);
      for (const socket of [pair.near, pair.far]) socket.unpipe().pause();
      this.#left.add(pair[which]);
      pair[which === 'near' ? 'far' : 'near'].destroy();
    }
  }

  async close(): Promise<void> {
    this.#server.close();
    this.cut();
    for (const socket of this.#left) socket.destroy();
    await once(this.#server, 'close');
  }

  #join(near: Socket): void {
    near.on('error', () => {});
    if (this.to === null) {
      near.destroy();
      return;
    }
    const far = connect(this.to, LOOPBACK);
    far.on('error', () => {});
    const pair = { near, far };
    this.#pairs.add(pair);
    for (const socket of [near, far]) {
      socket.on('close', () => {
        this.#left.delete(socket);
        if (!this.#pairs.delete(pair)) return;
        near.destroy();
        far.destroy();
      });
    }
    if (!this.#stalled) near.pipe(far).pipe(near);
  }
}
