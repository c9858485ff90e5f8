/** How whoever connects speaks of it. */
export interface BrokerWords {
  /** Where the address stands: `--broker`, `"broker"`. */
  setting: string;
  /** What runs there. */
  what: string;
  /** How it comes to listen beyond its own machine, in brackets; empty where that is not ours to say. */
  listens: string;
  /** What to do where name or password are not taken. */
  notLetIn: string;
}

/**
 * What went wrong with a connection to an MQTT broker, and what to do about it, in one sentence. `error` is what the
 * client says: with the return code of CONNACK (MQTT 3.1.1, 3.2.2.3) or the system's code; `host`
 * with its port, where the URL has one.
 */
export function brokerTrouble(error: Error, host: string, words: BrokerWords): string {
  const { setting, what, listens, notLetIn } = words;
  const { code } = error as { code?: unknown };
  switch (code) {
    case 4:
    case 5:
      return `the broker at ${host} ${notLetIn}`;
    case 'ECONNREFUSED':
      return `nothing listens at ${host}: look whether ${what} runs, whether ${setting} has its address and port (1883 unless said otherwise), and whether it listens beyond its own machine${listens}`;
    case 'ENOTFOUND':
    case 'EAI_AGAIN':
      return `${host} is not known in this network: look at ${setting}; an address such as mqtt://10.0.0.5:1883 needs no name`;
    case 'EHOSTUNREACH':
    case 'ENETUNREACH':
    case 'EHOSTDOWN':
    case 'ETIMEDOUT':
      return `there is no way to ${host}: look at ${setting}, the cable or the wireless network`;
    default:
      if (/connack timeout/.test(error.message))
        return `${host} does not answer as a broker: look at ${setting}; the page's port (8080) is not the broker's (1883)`;
      if (/certificate|self-signed/i.test(error.message))
        return `the certificate of ${host} is not trusted (${error.message}): name its maker's by NODE_EXTRA_CA_CERTS=FILE (own-certificate.pem where esterwatch made it)`;
      if (error.message === 'closed' || code === 'ECONNRESET' || /parse|packet|header/i.test(error.message))
        return `${host} answers, but not as a broker does (${error.message}): look at ${setting}; the page's port (8080) is not the broker's (1883), and mqtts:// not mqtt://`;
      return `no connection to ${host}: ${error.message}`;
  }
}
