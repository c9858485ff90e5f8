-- A store of version 3, as the program of that version wrote it: two sites, the first sealed in part.
PRAGMA application_id = 1163088983;
PRAGMA user_version = 3;
CREATE TABLE site (
    id INTEGER PRIMARY KEY,
    name TEXT NOT NULL UNIQUE,
    last_position INTEGER NOT NULL DEFAULT 0,
    judged_position INTEGER,
    judged_at_ms INTEGER
  , checksum BLOB NOT NULL DEFAULT x'') STRICT;
CREATE TABLE snapshot (
    site_id INTEGER PRIMARY KEY,
    position INTEGER NOT NULL,
    state TEXT NOT NULL
  ) STRICT;
CREATE TABLE channel (
    id INTEGER PRIMARY KEY,
    site_id INTEGER NOT NULL,
    vessel TEXT NOT NULL,
    name TEXT NOT NULL,
    UNIQUE (site_id, vessel, name)
  ) STRICT;
CREATE TABLE reading (
    channel_id INTEGER NOT NULL,
    at_ms INTEGER NOT NULL,
    stamped INTEGER NOT NULL,
    seq ANY NOT NULL, -- '' where there is none: a key holds no null
    value REAL NOT NULL,
    site_id INTEGER NOT NULL,
    position INTEGER NOT NULL,
    arrived_ms INTEGER NOT NULL,
    source TEXT NOT NULL,
    PRIMARY KEY (channel_id, at_ms, stamped, seq)
  ) STRICT, WITHOUT ROWID;
CREATE UNIQUE INDEX reading_position ON reading (site_id, position);
CREATE TABLE action (
    site_id INTEGER NOT NULL,
    position INTEGER NOT NULL,
    action TEXT NOT NULL,
    at_ms INTEGER NOT NULL,
    arrived_ms INTEGER NOT NULL,
    by TEXT NOT NULL,
    body TEXT NOT NULL,
    PRIMARY KEY (site_id, position)
  ) STRICT, WITHOUT ROWID;
CREATE TABLE alarm_event (
    site_id INTEGER NOT NULL,
    position INTEGER NOT NULL,
    key TEXT NOT NULL,
    id TEXT NOT NULL,
    vessel TEXT NOT NULL,
    alarm TEXT NOT NULL,
    event TEXT NOT NULL,
    priority TEXT NOT NULL,
    at_ms INTEGER NOT NULL,
    arrived_ms INTEGER NOT NULL,
    body TEXT NOT NULL,
    PRIMARY KEY (site_id, position),
    UNIQUE (site_id, key)
  ) STRICT, WITHOUT ROWID;
CREATE TABLE alarm (
    site_id INTEGER NOT NULL,
    id TEXT NOT NULL,
    position INTEGER NOT NULL, -- of its newest event
    vessel TEXT NOT NULL,
    at_ms INTEGER NOT NULL,
    open INTEGER NOT NULL,
    state TEXT NOT NULL,
    PRIMARY KEY (site_id, id)
  ) STRICT, WITHOUT ROWID;
CREATE INDEX alarm_at ON alarm (at_ms, position);
CREATE TABLE block (
      site_id INTEGER NOT NULL,
      position INTEGER NOT NULL,
      link BLOB NOT NULL,
      PRIMARY KEY (site_id, position)
    ) STRICT, WITHOUT ROWID;
CREATE INDEX alarm_event_arrived ON alarm_event (arrived_ms);
CREATE TABLE seal (
    site_id INTEGER NOT NULL,
    to_position INTEGER NOT NULL,
    from_position INTEGER NOT NULL,
    head BLOB NOT NULL, -- of the blocks that it replaced
    link BLOB NOT NULL,
    content BLOB NOT NULL, -- of its pages, one after the other: each in a row of its own would leave much room empty
    UNIQUE (site_id, to_position)
  ) STRICT;
CREATE TABLE page (
    site_id INTEGER NOT NULL,
    sealed_to INTEGER NOT NULL, -- to_position of its seal
    channel_id INTEGER NOT NULL,
    hour_ms INTEGER NOT NULL,
    from_ms INTEGER NOT NULL,
    to_ms INTEGER NOT NULL,
    from_position INTEGER NOT NULL,
    to_position INTEGER NOT NULL,
    count INTEGER NOT NULL,
    least REAL NOT NULL,
    sum REAL NOT NULL,
    most REAL NOT NULL,
    offset INTEGER NOT NULL, -- in the seal's content, and so many bytes
    length INTEGER NOT NULL,
    coarse BLOB NOT NULL, -- least, sum, most and number of every five minutes
    content_hash BLOB NOT NULL, -- SHA-256: the chain holds without the content
    UNIQUE (channel_id, hour_ms, sealed_to)
  ) STRICT;
CREATE INDEX page_of_seal ON page (site_id, sealed_to);
INSERT INTO site VALUES (1, 'barn', 34, 24, 1750004800040, x'da90c23981db9249ef02a6d697a043ed4f31c50ee083bfa0e8bab899186c822e');
INSERT INTO site VALUES (2, 'shed', 34, 24, 1750004800040, x'100b1aa75b31a315bb427b5df4ffd57eecec44f80d23feedcc3d29195ae29b0c');
INSERT INTO snapshot VALUES (1, 12, '{"nowMs":1}');
INSERT INTO snapshot VALUES (2, 12, '{"nowMs":1}');
INSERT INTO channel VALUES (1, 1, 'r1', 'liquid-temperature');
INSERT INTO channel VALUES (2, 1, 'r1', 'stirrer-speed');
INSERT INTO channel VALUES (3, 1, 'm1', 'liquid-temperature');
INSERT INTO channel VALUES (4, 2, 'r1', 'liquid-temperature');
INSERT INTO channel VALUES (5, 2, 'r1', 'stirrer-speed');
INSERT INTO channel VALUES (6, 2, 'm1', 'liquid-temperature');
INSERT INTO reading VALUES (1, 1750003600000, 0, '', 20.375, 1, 23, 1750003600040, 'device');
INSERT INTO reading VALUES (1, 1750004200000, 0, 7, 20.4375, 1, 28, 1750004200040, 'device');
INSERT INTO reading VALUES (1, 1750004800000, 0, '', 20.5, 1, 31, 1750004800040, 'device');
INSERT INTO reading VALUES (2, 1750003600000, 1, '', 250, 1, 24, 1750003600040, 'device');
INSERT INTO reading VALUES (2, 1750004200000, 1, '', 250, 1, 29, 1750004200040, 'device');
INSERT INTO reading VALUES (2, 1750004800000, 1, '', 250, 1, 32, 1750004800040, 'device');
INSERT INTO reading VALUES (3, 1750003600000, 0, '', 6, 1, 25, 1750003600040, 'typed');
INSERT INTO reading VALUES (3, 1750004200000, 0, '', 7, 1, 30, 1750004200040, 'device');
INSERT INTO reading VALUES (3, 1750004800000, 0, '', 8, 1, 33, 1750004800040, 'device');
INSERT INTO reading VALUES (4, 1750000000000, 0, '', 20, 2, 1, 1750000000040, 'device');
INSERT INTO reading VALUES (4, 1750000600000, 0, 1, 20.0625, 2, 5, 1750000600040, 'device');
INSERT INTO reading VALUES (4, 1750001200000, 0, '', 20.125, 2, 8, 1750001200040, 'device');
INSERT INTO reading VALUES (4, 1750001800000, 0, 3, 20.1875, 2, 11, 1750001800040, 'device');
INSERT INTO reading VALUES (4, 1750002400000, 0, '', 20.25, 2, 15, 1750002400040, 'device');
INSERT INTO reading VALUES (4, 1750003000000, 0, 5, 20.3125, 2, 20, 1750003000040, 'device');
INSERT INTO reading VALUES (4, 1750003600000, 0, '', 20.375, 2, 23, 1750003600040, 'device');
INSERT INTO reading VALUES (4, 1750004200000, 0, 7, 20.4375, 2, 28, 1750004200040, 'device');
INSERT INTO reading VALUES (4, 1750004800000, 0, '', 20.5, 2, 31, 1750004800040, 'device');
INSERT INTO reading VALUES (5, 1750000000000, 1, '', 250, 2, 2, 1750000000040, 'device');
INSERT INTO reading VALUES (5, 1750000600000, 1, '', 250, 2, 6, 1750000600040, 'device');
INSERT INTO reading VALUES (5, 1750001200000, 1, '', 250, 2, 9, 1750001200040, 'device');
INSERT INTO reading VALUES (5, 1750001800000, 1, '', 250, 2, 12, 1750001800040, 'device');
INSERT INTO reading VALUES (5, 1750002400000, 1, '', 250, 2, 16, 1750002400040, 'device');
INSERT INTO reading VALUES (5, 1750003000000, 1, '', 250, 2, 21, 1750003000040, 'device');
INSERT INTO reading VALUES (5, 1750003600000, 1, '', 250, 2, 24, 1750003600040, 'device');
INSERT INTO reading VALUES (5, 1750004200000, 1, '', 250, 2, 29, 1750004200040, 'device');
INSERT INTO reading VALUES (5, 1750004800000, 1, '', 250, 2, 32, 1750004800040, 'device');
INSERT INTO reading VALUES (6, 1750000000000, 0, '', 0, 2, 3, 1750000000040, 'typed');
INSERT INTO reading VALUES (6, 1750000600000, 0, '', 1, 2, 7, 1750000600040, 'device');
INSERT INTO reading VALUES (6, 1750001200000, 0, '', 2, 2, 10, 1750001200040, 'device');
INSERT INTO reading VALUES (6, 1750001800000, 0, '', 3, 2, 13, 1750001800040, 'typed');
INSERT INTO reading VALUES (6, 1750002400000, 0, '', 4, 2, 17, 1750002400040, 'device');
INSERT INTO reading VALUES (6, 1750003000000, 0, '', 5, 2, 22, 1750003000040, 'device');
INSERT INTO reading VALUES (6, 1750003600000, 0, '', 6, 2, 25, 1750003600040, 'typed');
INSERT INTO reading VALUES (6, 1750004200000, 0, '', 7, 2, 30, 1750004200040, 'device');
INSERT INTO reading VALUES (6, 1750004800000, 0, '', 8, 2, 33, 1750004800040, 'device');
INSERT INTO action VALUES (1, 4, 'site-altitude', 1750000000000, 1750000000040, 'p1', '{"note":"Öl, \"warm\"\n","i":0}');
INSERT INTO action VALUES (1, 14, 'site-altitude', 1750001800000, 1750001800040, 'p1', '{"note":"Öl, \"warm\"\n","i":3}');
INSERT INTO action VALUES (1, 26, 'site-altitude', 1750003600000, 1750003600040, 'p1', '{"note":"Öl, \"warm\"\n","i":6}');
INSERT INTO action VALUES (2, 4, 'site-altitude', 1750000000000, 1750000000040, 'p1', '{"note":"Öl, \"warm\"\n","i":0}');
INSERT INTO action VALUES (2, 14, 'site-altitude', 1750001800000, 1750001800040, 'p1', '{"note":"Öl, \"warm\"\n","i":3}');
INSERT INTO action VALUES (2, 26, 'site-altitude', 1750003600000, 1750003600040, 'p1', '{"note":"Öl, \"warm\"\n","i":6}');
INSERT INTO alarm_event VALUES (1, 18, 'k1', 'a1', 'r1', 'boiling-near', 'raised', 'high', 1750002400000, 1750002400040, '{"late":false,"value":62.1,"limit":61.6,"because":"b","todo":"t","facts":{"headroomC":2.5}}');
INSERT INTO alarm_event VALUES (1, 19, 'k2', 'a2', 'r1', 'boiling-near', 'raised', 'high', 1750002400000, 1750002400040, '{"late":false,"value":62.1,"limit":61.6,"because":"b","todo":"t","facts":{"headroomC":2.5}}');
INSERT INTO alarm_event VALUES (1, 27, 'k3', 'a1', 'r1', 'boiling-near', 'acknowledged', 'high', 1750003600000, 1750003600040, '{"by":"p1","reason":null}');
INSERT INTO alarm_event VALUES (1, 34, 'k4', 'a1', 'r1', 'boiling-near', 'cleared', 'high', 1750004800000, 1750004800040, '{"late":false,"value":62.1,"limit":61.6,"because":"b","todo":"t","facts":{"headroomC":2.5}}');
INSERT INTO alarm_event VALUES (2, 18, 'k1', 'a1', 'r1', 'boiling-near', 'raised', 'high', 1750002400000, 1750002400040, '{"late":false,"value":62.1,"limit":61.6,"because":"b","todo":"t","facts":{"headroomC":2.5}}');
INSERT INTO alarm_event VALUES (2, 19, 'k2', 'a2', 'r1', 'boiling-near', 'raised', 'high', 1750002400000, 1750002400040, '{"late":false,"value":62.1,"limit":61.6,"because":"b","todo":"t","facts":{"headroomC":2.5}}');
INSERT INTO alarm_event VALUES (2, 27, 'k3', 'a1', 'r1', 'boiling-near', 'acknowledged', 'high', 1750003600000, 1750003600040, '{"by":"p1","reason":null}');
INSERT INTO alarm_event VALUES (2, 34, 'k4', 'a1', 'r1', 'boiling-near', 'cleared', 'high', 1750004800000, 1750004800040, '{"late":false,"value":62.1,"limit":61.6,"because":"b","todo":"t","facts":{"headroomC":2.5}}');
INSERT INTO alarm VALUES (1, 'a1', 34, 'r1', 1750002400000, 0, '{"site":"barn","id":"a1","vessel":"r1","alarm":"boiling-near","event":"cleared","priority":"high","late":false,"value":62.1,"limit":61.6,"because":"b","todo":"t","facts":{"headroomC":2.5},"standing":false,"atMs":1750002400000,"clearedAtMs":1750004800000,"acknowledged":{"by":"p1","reason":null,"atMs":1750003600000},"explainedBy":null,"shelved":null}');
INSERT INTO alarm VALUES (1, 'a2', 19, 'r1', 1750002400000, 1, '{"site":"barn","id":"a2","vessel":"r1","alarm":"boiling-near","event":"raised","priority":"high","late":false,"value":62.1,"limit":61.6,"because":"b","todo":"t","facts":{"headroomC":2.5},"standing":true,"atMs":1750002400000,"clearedAtMs":null,"acknowledged":null,"explainedBy":null,"shelved":null}');
INSERT INTO alarm VALUES (2, 'a1', 34, 'r1', 1750002400000, 0, '{"site":"shed","id":"a1","vessel":"r1","alarm":"boiling-near","event":"cleared","priority":"high","late":false,"value":62.1,"limit":61.6,"because":"b","todo":"t","facts":{"headroomC":2.5},"standing":false,"atMs":1750002400000,"clearedAtMs":1750004800000,"acknowledged":{"by":"p1","reason":null,"atMs":1750003600000},"explainedBy":null,"shelved":null}');
INSERT INTO alarm VALUES (2, 'a2', 19, 'r1', 1750002400000, 1, '{"site":"shed","id":"a2","vessel":"r1","alarm":"boiling-near","event":"raised","priority":"high","late":false,"value":62.1,"limit":61.6,"because":"b","todo":"t","facts":{"headroomC":2.5},"standing":true,"atMs":1750002400000,"clearedAtMs":null,"acknowledged":null,"explainedBy":null,"shelved":null}');
INSERT INTO block VALUES (1, 27, x'a744caeb4918d0e8fe7658de69ee04fcec67439f9113f73b83678f367a82d508');
INSERT INTO block VALUES (1, 30, x'e35079182df81c0f9c0a8aad14566b47a743b2e561779cf6137d6034354b6e49');
INSERT INTO block VALUES (1, 34, x'4e8da3d6798eb3617825905fefef5df9b1ea9da57a2a8ede10a728de77494d86');
INSERT INTO block VALUES (2, 4, x'96ea011a9131494287dfd2a4b6603f8bc32fd024522cf147ede2f6dbba369add');
INSERT INTO block VALUES (2, 7, x'78d8c56fbbd89bd58097f8c5851a4d6c4e24dce9b4985c87560a6b80d3709493');
INSERT INTO block VALUES (2, 10, x'b385ae3d944081adf804838e71a9074e3b5d135e6c2ce2baacc4707e73d3f225');
INSERT INTO block VALUES (2, 14, x'c5e5adb5b2a2ffccbe0781888e32ee1a0f3faa5ace135ea88de5af67651be9e9');
INSERT INTO block VALUES (2, 19, x'159773bcb920c358b1fb719603a6b7b0055f46a3c1fdd69d6f6cffdb0a837da9');
INSERT INTO block VALUES (2, 22, x'f2c781343bd8d74f3a756c8106846fab51b301d69073cf2d1b11bbfdd9ad1af1');
INSERT INTO block VALUES (2, 27, x'5f0d5a4834e3967da2f12f48c8baaec39dfc97fadf7d764a227aefdae35e56bf');
INSERT INTO block VALUES (2, 30, x'f1dcc8fe959505a1046b0b4bc43ec6b76e517ea30d7404263d64a219f349653c');
INSERT INTO block VALUES (2, 34, x'065acd57f178611aa26b8413a610dbf8723b5b329a03120abc42b2430303e01d');
INSERT INTO seal VALUES (1, 10, 1, x'12bda81f1a1e0cc72f96bdd5e0459b8aa89f36b4bb108662b96943dda738b9ca', x'39c5b95501682c0f22ce7c3d5d88d18c3980feb020df54f0b93ad53a9ec94ea4', x'01026602372900508332efd4c02411212cb8030220332028c004120d400a671001200b2931b25500000000000001081702391c009083b2eea7c02412212cf803824003692843c008820000000100000000016e6e42091c0083b2ee9427c01fc2810c000a2030a55c000000012000000011212042023cc061');
INSERT INTO seal VALUES (1, 22, 11, x'40138af16cb7e9d55c7533ce3393922d6940ffed58015b068158b371e607d8bf', x'41b42eaaad129e7d36cd56d69270e8b94eacdc09eade81742b55ebf5d94e4a90', x'0102640234e94050f132efd4c024142d2da4000a20307f2e0004421493b2671981a1000329304a342000000000000140ae42091340f1b2ee9427c05c84412de401020003f02843c008820000000100000000010dcd0239134090f1b2eea7c02414352da4000a2031e891000002312000000011212042023cc061');
INSERT INTO page VALUES (1, 10, 1, 1749999600000, 1750000000000, 1750001200000, 1, 8, 3, 20, 60.1875, 20.125, 0, 45, x'040002312220012004420d40b22711849240300a2714420d40b2271000', x'f85fd9dbc06d3137a2b2693e200fdbb7bbaf4efdbae063336cce8ad5bc711e7e');
INSERT INTO page VALUES (1, 10, 2, 1749999600000, 1750000000000, 1750001200000, 2, 9, 3, 250, 750, 250, 45, 36, x'400c0201222120000f888043c008800000083e8000', x'14cf5108fb494941e22180ee43dc48e71b6d9103486e6b937f1e6b4ecbec807b');
INSERT INTO page VALUES (1, 10, 3, 1749999600000, 1750000000000, 1750001200000, 3, 10, 3, 0, 3, 2, 81, 39, x'0200023a010201200000012000012100000100', x'1e3c7836423c32e3a0389e90a6a76e255919fef205c4fe3047461cb1f908e67b');
INSERT INTO page VALUES (1, 22, 1, 1749999600000, 1750001800000, 1750003000000, 11, 20, 3, 20.1875, 60.75, 20.3125, 0, 46, x'100002333a20012004421493b22712841293300a2714421493b2271000', x'1e87999507f302a59e77c925aab6d3f0aa18b24970058da19c5a52856bf95003');
INSERT INTO page VALUES (1, 22, 2, 1749999600000, 1750001800000, 1750003000000, 12, 21, 3, 250, 750, 250, 46, 36, x'0100423c03022120000f888043c008800000083e8000', x'4c7f0991ede8d92f64cbe0d110c2c49d377331bd3742944b3088ccdae1d5d989');
INSERT INTO page VALUES (1, 22, 3, 1749999600000, 1750001800000, 1750003000000, 13, 22, 3, 3, 12, 5, 82, 40, x'0200023e03022120000238010002312002380100', x'245c9a35fd596df7a8cf27b666f61d386994375a50323bf758888791719b62f1');
