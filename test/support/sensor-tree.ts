import { mkdirSync, mkdtempSync, rmSync, symlinkSync, writeFileSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { dirname, join } from 'node:path';

/** A folder with copies of the files in which a Linux kernel shows sensors. */
export class SensorTree {
  readonly root = mkdtempSync(join(tmpdir(), 'sensors-'));

  write(path: string, text: string | number): void {
    const file = join(this.root, path);
    mkdirSync(dirname(file), { recursive: true });
    writeFileSync(file, `${text}\n`);
  }

  link(path: string, to: string): void {
    const file = join(this.root, path);
    mkdirSync(dirname(file), { recursive: true });
    symlinkSync(to, file);
  }

  remove(path = '.'): void {
    rmSync(join(this.root, path), { recursive: true, force: true });
  }

  /** A thermometer on a 1-Wire bus, as `w1_therm` shows a DS18B20: scratchpad, verdict, thousandths of °C. */
  oneWire(id: string, celsius: number, verdict: 'YES' | 'NO' = 'YES'): void {
    const sixteenths = Math.round(celsius * 16) & 0xffff;
    const bytes = [sixteenths & 0xff, sixteenths >> 8, 0x4b, 0x46, 0x7f, 0xff, 0x0c, 0x10, 0x1c];
    const hex = bytes.map((byte) => byte.toString(16).padStart(2, '0')).join(' ');
    this.write(
      `sys/bus/w1/devices/${id}/w1_slave`,
      `${hex} : crc=1c ${verdict}\n${hex} t=${Math.round(celsius * 1000)}`,
    );
  }

  /** A chip of a class by its name, on a device. */
  chip(folder: string, name: string, files: Record<string, string | number>, device?: string): void {
    this.write(join(folder, 'name'), name);
    for (const [file, text] of Object.entries(files)) this.write(join(folder, file), text);
    if (device === undefined) return;
    mkdirSync(join(this.root, 'sys/devices', device), { recursive: true });
    this.link(join(folder, 'device'), join(this.root, 'sys/devices', device));
  }
}
