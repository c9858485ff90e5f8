import { existsSync } from 'node:fs';
import { basename, dirname, resolve } from 'node:path';
import { fileURLToPath } from 'node:url';
import { type Config, parseAddress, readConfig } from '../config.ts';
import { readOptions } from './options.ts';
import { UsageError } from './usage.ts';

const DEFAULT_USER = 'esterwatch';
/** What systemd makes and gives to the service's user (systemd.exec(5), `StateDirectory=`). */
const STATE_FOLDER = '/var/lib';
const DEFAULT_STATE = `${STATE_FOLDER}/esterwatch`;
/** Below this a port is for who has a capability (ip_unprivileged_port_start, ip(7)). */
const UNPRIVILEGED_PORT = 1024;
/** Folders that `ProtectHome=yes` empties (systemd.exec(5)). */
const HOMES = /^\/(home|root|run\/user)\//;

const HELP = `esterwatch unit: prints a systemd unit that runs the daemon for years: started with the machine, started again
whenever it ends or hangs, as a user of its own that may do no more than the daemon needs.

  --config FILE  the daemon's configuration; what it says of ports below ${UNPRIVILEGED_PORT} and of copies is allowed for
  --data DIR     where everything is kept (the configuration's, else ${DEFAULT_STATE})
  --user NAME    as whom it runs (${DEFAULT_USER})
  --help

  esterwatch unit > /etc/systemd/system/esterwatch.service
`;

export async function unit(args: string[]): Promise<void> {
  const given = readOptions(
    args,
    { config: { type: 'string' }, data: { type: 'string' }, user: { type: 'string' } },
    HELP,
  );
  if (given === null) return;
  const user = given.user ?? DEFAULT_USER;
  // As useradd takes them, so that none of them ends the line (useradd(8)).
  if (!/^[a-z_][a-z0-9_-]{0,31}$/.test(user))
    throw new UsageError(`--user wants the name of a user of this machine, not ${user}`);
  const configFile = given.config === undefined ? undefined : resolve(given.config);
  const config = configFile === undefined ? {} : readConfig(configFile);
  const main = mainFile();
  const data = resolve(given.data ?? config.data ?? DEFAULT_STATE);
  const read = [process.execPath, main, ...(configFile === undefined ? [] : [configFile])];
  // The daemon takes it from where it runs, which is its data folder.
  const backup = config.backup && resolve(data, config.backup.folder);
  for (const path of [...read, data, backup ?? '']) refuseUnsayable(path);
  for (const path of [data, backup ?? '']) refuseUnsayableFolder(path);
  // systemd starts no program of such a name, however it is said (seen with systemd 252).
  if (/[\\"']/.test(process.execPath))
    throw new UsageError(
      `systemd starts no program with quotes or a back-slash in its path: ${process.execPath} wants another place`,
    );
  const unit = unitText({ user, program: process.execPath, main, configFile, config, data, backup });
  process.stdout.write(unit);
  for (const file of read.filter((path) => HOMES.test(path)))
    process.stderr.write(
      `${file} lies in a home folder, where the user ${user} mostly may not read: install it elsewhere (npm install --global as root; /etc for the configuration), and print the unit again.\n`,
    );
}

/** Throws where no line of a unit can have a path. */
function refuseUnsayable(path: string): void {
  if (/[\x00-\x1f\x7f]/.test(path))
    throw new UsageError(`a unit has no room for a path with a line break: ${JSON.stringify(path)}`);
}

/**
 * Throws where a folder cannot be said in all the lines that name one: they are read by other rules than a command is.
 * In some a back-slash and blanks at the end are taken as they are, in others not; and a word that has quotes of one kind
 * stands in those of the other (systemd.syntax(7)).
 */
function refuseUnsayableFolder(path: string): void {
  const has = path.includes('\\')
    ? 'a back-slash'
    : path.endsWith(' ')
      ? 'a blank at its end'
      : path.includes('"') && path.includes("'")
        ? 'quotes of both kinds'
        : null;
  if (has !== null)
    throw new UsageError(`a unit has no room for a folder with ${has}: ${path} wants another name`);
}

/** `main.js` as built; this file lies beside it there. */
function mainFile(): string {
  const built = new URL('main.js', import.meta.url);
  return fileURLToPath(existsSync(built) ? built : new URL('../../dist/daemon/main.js', import.meta.url));
}

interface UnitParts {
  user: string;
  program: string;
  main: string;
  configFile: string | undefined;
  config: Config;
  data: string;
  /** Where copies go. */
  backup: string | undefined;
}

function unitText({ user, program, main, configFile, config, data, backup }: UnitParts): string {
  const words = [
    main,
    'serve',
    '--data',
    data,
    ...(configFile === undefined ? [] : ['--config', configFile]),
  ];
  // Where `StateDirectory=` takes it as it stands: a colon there has a meaning of its own (systemd.exec(5)).
  const isState = dirname(data) === STATE_FOLDER && /^[\w.-]+$/.test(basename(data));
  const writes = [
    ...(isState ? [] : [quotedFolder(data)]),
    // A stick that is not plugged in must not keep the daemon from its watch.
    ...(backup === undefined ? [] : [quotedFolder(`-${backup}`)]),
  ];
  const inHome = [program, main, configFile, data].some((path) => path !== undefined && HOMES.test(path));
  const capability = listensLow(config) ? 'CAP_NET_BIND_SERVICE' : '';
  const ownFolder = isState ? '' : `#   install --directory --owner ${user} --mode 700 -- ${inShell(data)}\n`;
  return `# To be saved as /etc/systemd/system/esterwatch.service. Then, once, as root:
#   useradd --system --shell /usr/sbin/nologin ${user}
${ownFolder}#   systemctl daemon-reload && systemctl enable --now esterwatch
# What it says: journalctl -u esterwatch -f

[Unit]
Description=esterwatch: watches biodiesel batches and warns
# Not after network-online.target or time-sync.target: a pulled cable must not keep it from its watch. An address that
# is not there yet is tried again with every start, and a clock that is set later is allowed for.
After=network.target
StartLimitIntervalSec=0
${isState ? '' : `RequiresMountsFor=${quotedFolder(data)}\n`}
[Service]
Type=notify
# It is said through systemd-notify, a process of its own.
NotifyAccess=all
ExecStart=${[quoted(program), ...words.map((word) => quoted(word).replaceAll('$', '$$$$'))].join(' ')}
# A store of an older version is brought up to date before the daemon is ready.
TimeoutStartSec=1h
WatchdogSec=30
Restart=always
RestartSec=5
# A stop takes 10 s at most.
TimeoutStopSec=20
# A daemon that hangs is ended by a signal that would have its memory written to the disk.
LimitCORE=0
# Where memory is short, a browser is ended before the watch.
OOMScoreAdjust=-500

User=${user}
${isState ? `StateDirectory=${basename(data)}\nStateDirectoryMode=0700\n` : ''}WorkingDirectory=${escaped(data)}
UMask=0077
ProtectSystem=strict
${writes.length === 0 ? '' : `ReadWritePaths=${writes.join(' ')}\n`}ProtectHome=${inHome ? 'read-only' : 'yes'}
PrivateTmp=yes
PrivateDevices=yes
ProtectProc=invisible
ProtectClock=yes
ProtectHostname=yes
ProtectControlGroups=yes
ProtectKernelLogs=yes
ProtectKernelModules=yes
ProtectKernelTunables=yes
NoNewPrivileges=yes
CapabilityBoundingSet=${capability}
AmbientCapabilities=${capability}
# netlink: asking which addresses this machine has.
RestrictAddressFamilies=AF_UNIX AF_INET AF_INET6 AF_NETLINK
RestrictNamespaces=yes
RestrictRealtime=yes
RestrictSUIDSGID=yes
RemoveIPC=yes
LockPersonality=yes
KeyringMode=private
SystemCallArchitectures=native
SystemCallFilter=@system-service
SystemCallFilter=~@privileged @resources
SystemCallErrorNumber=EPERM
# Not MemoryDenyWriteExecute: Node.js compiles as it runs.

[Install]
WantedBy=multi-user.target
`;
}

/** Whether it is to listen where only the privileged may. */
const listensLow = ({ http, mqtt, mqtts }: Config): boolean =>
  [http, mqtt, mqtts].some(
    (at) => at !== undefined && parseAddress(at, 'configuration').port < UNPRIVILEGED_PORT,
  );

/** `%` begins a specifier everywhere in a unit (systemd.unit(5)). */
const escaped = (text: string): string => text.replaceAll('%', '%%');

/**
 * One word of a command (systemd.service(5)), quoted where it has to be. A dollar sign begins a variable in all but the
 * first.
 */
function quoted(text: string): string {
  const plain = escaped(text);
  return /^[\w/.:@%+=,$-]+$/.test(plain) ? plain : `"${plain.replace(/[\\"]/g, '\\$&')}"`;
}

/** A folder in a line of several: there a back-slash is one, so that quotes stand only in quotes of the other kind. */
function quotedFolder(path: string): string {
  const plain = escaped(path);
  if (/^[\w/.:@%+=,$-]+$/.test(plain)) return plain;
  return plain.includes('"') ? `'${plain}'` : `"${plain}"`;
}

/** One word of a shell's line (POSIX, 2.2.2). */
const inShell = (text: string): string =>
  /^[\w/.:@%+=,-]+$/.test(text) ? text : `'${text.replaceAll("'", "'\\''")}'`;
