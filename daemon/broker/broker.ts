import type { Address } from '../config.ts';
import type { Message } from '../intake/intake.ts';

/** What the daemon wants of an MQTT broker, its own or another. */
export interface Broker {
  readonly kind: 'embedded' | 'outside';
  /** Whether readings can come: the link stands, and the broker has taken the subscriptions. */
  readonly connected: boolean;
  /** Where devices reach it; null for one that listens elsewhere. */
  readonly listens: Address | null;
  /** Publishes a topic of the daemon's own, QoS 1. */
  publish(topic: string, payload: string, retain: boolean): Promise<void>;
  /** Has this retained once the daemon is gone without a goodbye. Said again for the same topic, nothing changes. */
  leaveWill(topic: string, payload: string): void;
  close(): Promise<void>;
}

/** Takes a message in; resolved means committed, and only then may the sender be told so. */
export type TakeMessage = (message: Message) => Promise<boolean>;
