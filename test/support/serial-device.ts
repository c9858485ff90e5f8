import { type ChildProcess, spawn } from 'node:child_process';
import { once } from 'node:events';
import { fileURLToPath } from 'node:url';
import { onTestFinished } from 'vitest';
import { endWithTests } from './children.ts';

const PROGRAM = fileURLToPath(new URL('./serial-device.py', import.meta.url));

/** A pseudo-terminal with a device behind it, which says what it is told to. */
export class SerialDevice {
  readonly port: string;
  readonly #child: ChildProcess;

  private constructor(port: string, child: ChildProcess) {
    this.port = port;
    this.#child = child;
  }

  static async start(): Promise<SerialDevice> {
    const child = endWithTests(spawn('python3', [PROGRAM], { stdio: ['pipe', 'pipe', 'inherit'] }));
    onTestFinished(() => void child.kill('SIGKILL'));
    const [name] = (await once(child.stdout, 'data')) as [Buffer];
    return new SerialDevice(name.toString().trim(), child);
  }

  say(text: string): void {
    this.#child.stdin!.write(text, 'latin1');
  }

  async pullOut(): Promise<void> {
    const ended = once(this.#child, 'close');
    this.#child.stdin!.end();
    await ended;
  }
}
