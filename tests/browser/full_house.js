// How long each question to the rules takes in a full house: 500 supers, 60 hives, one season. Handed to a page (or to
// node) as one function; it makes the house through the rules' own `fold_on`, holds it as rows, and asks.
// Invented figures; nothing here is a rule of the trade.
async (fetchModule) => {
  const HIVES = 60;
  const SUPERS = 500;
  const PER_RUN = 25;
  const exportsOf = async (name) => (await WebAssembly.instantiate(await fetchModule(name))).instance.exports;
  const asks = (wasm) => (question) => {
    const bytes = new TextEncoder().encode(JSON.stringify(question));
    const at = wasm.reserve(bytes.length);
    new Uint8Array(wasm.memory.buffer, at, bytes.length).set(bytes);
    const packed = BigInt.asUintN(64, wasm.call());
    return JSON.parse(new TextDecoder().decode(new Uint8Array(wasm.memory.buffer, Number(packed >> 32n), Number(packed & 0xffffffffn))));
  };
  const rules = asks(await exportsOf('rules.wasm'));
  const reckon = asks(await exportsOf('reckon.wasm'));
  const id = (kind, number) => `00000000-0000-4000-8000-${kind.toString(16).padStart(4, '0')}${number.toString(16).padStart(8, '0')}`;
  const [YARD, HIVE, SUPER, RUN, FILL, PAIL, LOT, BATCH, MEDICINE, DEVICE, BUYER, DELIVERY] = Array.from({ length: 12 }, (_, at) => at + 1);
  const versions = new Map(rules({ call: 'about' }).kinds.map((kind) => [kind.kind, kind.max]));
  const entries = [];
  const tell = (day, kind, data) => {
    const at = entries.length;
    const happened_at = new Date(Date.UTC(2025, 3, 1 + day, 8, Math.floor(at / 60) % 60, at % 60)).toISOString();
    entries.push({ id: id(99, at), kind, v: versions.get(kind), data, happened_at, utc_offset_min: 120, device_counter: at, saw: at });
  };
  const numbers = (count) => Array.from({ length: count }, (_, at) => at);
  const hives = numbers(HIVES).map((at) => id(HIVE, at));
  numbers(6).forEach((at) => tell(0, 'yard_registered', { yard_id: id(YARD, at), name: `yard ${at}`, code: 'ABCDEF'[at] }));
  hives.forEach((hive_id, at) => tell(0, 'hive_registered', { hive_id, yard_id: id(YARD, at % 6), code: `H${at}` }));
  tell(0, 'medicine_registered', { medicine_id: id(MEDICINE, 0), name: 'strips', wait_days: 0, supers_allowed: false });
  tell(1, 'feed_put_on', { hive_ids: hives, feed: 'sugar_syrup', per_hive: { weight_g: 2000 } });
  tell(10, 'feed_taken_off', { hive_ids: hives });
  tell(11, 'treatment_put_in', { hive_ids: hives, medicine_id: id(MEDICINE, 0), batch: 'K1', per_hive: { pieces: 2 }, against: 'varroa', way: 'strip', duration_days: 20, basis: 'routine' });
  tell(35, 'treatment_taken_out', { hive_ids: hives.slice(10), medicine_id: id(MEDICINE, 0) });
  numbers(SUPERS).forEach((at) => {
    const super_id = id(SUPER, at);
    tell(2, 'super_registered', { super_id, number: `S${at}`, class: 'medium', frames: 10, tare_g: 7000 });
    tell(40, 'super_placed', { super_id, hive_id: hives[at % HIVES] });
    if (at >= SUPERS - 80) return;
    tell(80, 'super_pulled', { super_id, hive_id: hives[at % HIVES], capped_percent: 95 });
    tell(81, 'super_received', { super_id, gross_g: 20000 + at });
    if (at >= SUPERS - 160) return;
    tell(82, 'super_uncapped', { super_id, run_id: id(RUN, Math.floor(at / PER_RUN)) });
    tell(83, 'wet_weighed', { super_id, run_id: id(RUN, Math.floor(at / PER_RUN)), gross_g: 8000 });
  });
  const runs = Math.ceil((SUPERS - 160) / PER_RUN);
  numbers(runs).forEach((at) => tell(81, 'run_opened', { run_id: id(RUN, at), name: `25-R${at}` }));
  numbers(40).forEach((at) => {
    tell(0, 'container_registered', { container_id: id(PAIL, at), number: `P${at}`, container: 'bucket', tare_g: 1200, holds_ml: 40000 });
    tell(84, 'container_filled', { fill_id: id(FILL, at), source: { run_id: id(RUN, at % runs) }, gross_g: 31200, tare_g: 1200, container_id: id(PAIL, at) });
    tell(85, 'moisture_read', { targets: [{ kind: 'fill', id: id(FILL, at) }], shown: { moisture_hundredths: 1650 + 10 * at }, places: 3 });
  });
  tell(90, 'customer_registered', { customer_id: id(BUYER, 0), name: 'shop' });
  numbers(6).forEach((at) => {
    const code = rules({ call: 'next_code', device_id: id(DEVICE, at), season: 2025 }).code;
    tell(90, 'honey_drawn', { lot_id: id(LOT, at), code, fill_id: id(FILL, at), weight_g: 20000, claim: 'general' });
    tell(91, 'bottled', { lot_id: id(LOT, at), batch_id: id(BATCH, at), code, nominal_g: 500, jars_good: 38, jars_broken: 0, used_g: 19400 });
    tell(92, 'delivered', { delivery_id: id(DELIVERY, at), customer_id: id(BUYER, 0), lines: [{ goods: { jars: { batch_id: id(BATCH, at), count: 12 } } }] });
  });
  const device_id = id(DEVICE, 0);
  const told = rules({ call: 'fold_on', device_id, entries });
  if (!told.rows) throw new Error(JSON.stringify(told));
  rules({ call: 'forget' });
  const rows = told.rows.map(({ kind, id: of, state }) => ({ kind, id: of, state }));
  const now = '2025-07-10T12:00:00Z';
  const decided = (kind, data) => ({ call: 'decide', now, wish: { kind, data } });
  const parts = [];
  for (let at = 0; at < rows.length; at += 400) parts.push(rows.slice(at, at + 400));
  const today = numbers(60).map((at) => ({
    ...entries[0], id: id(98, at), kind: 'super_pulled', v: versions.get('super_pulled'), data: { super_id: id(SUPER, SUPERS - 1 - at), hive_id: hives[(SUPERS - 1 - at) % HIVES] }, happened_at: now, device_counter: 10000 + at, saw: 9000,
  }));
  const waiting = numbers(80).map((at) => id(SUPER, SUPERS - 160 + at));
  const blend = { call: 'blend_at_hand', now, wish: { claim: 'general', wanted_g: 100000 } };
  const calls = {
    'hold, 400 rows': [rules, () => ({ call: 'hold', rows: parts[0] })],
    'hold, the rest': [rules, () => ({ call: 'hold', rows: parts.slice(1).flat() })],
    'fold_on, 60 entries': [rules, () => ({ call: 'fold_on', device_id, entries: today })],
    'fold_on, nothing left': [rules, () => ({ call: 'fold_on', device_id, entries: [] })],
    'decide super_placed': [rules, () => decided('super_placed', { super_id: waiting[0], hive_id: hives[3] })],
    'decide super_pulled': [rules, () => decided('super_pulled', { super_id: id(SUPER, SUPERS - 1), hive_id: hives[(SUPERS - 1) % HIVES] })],
    'decide super_uncapped': [rules, () => decided('super_uncapped', { super_id: waiting[1], run_id: id(RUN, runs - 1) })],
    'decide treatment_put_in': [rules, () => decided('treatment_put_in', entries.find((entry) => entry.kind === 'treatment_put_in').data)],
    'decide blended': [rules, () => decided('blended', { lot_id: id(LOT, 50), code: rules({ call: 'next_code', device_id, season: 2025 }).code, parts: [7, 8].map((at) => ({ from: { kind: 'fill', id: id(FILL, at) }, weight_g: 5000 })), claim: 'general' })],
    'decide bottled': [rules, () => decided('bottled', { lot_id: id(LOT, 1), batch_id: id(BATCH, 60), code: rules({ call: 'next_code', device_id, season: 2025 }).code, nominal_g: 250, jars_good: 2, jars_broken: 0, used_g: 510 })],
    next: [rules, () => ({ call: 'next', now })],
    holds: [rules, () => ({ call: 'holds', now })],
    'holds_on a super': [rules, () => ({ call: 'holds_on', now, subject: { kind: 'super', id: id(SUPER, 3) } })],
    'holds_on a batch': [rules, () => ({ call: 'holds_on', now, subject: { kind: 'batch', id: id(BATCH, 1) } })],
    'trace of a batch': [rules, () => ({ call: 'trace', now, subject: { kind: 'batch', id: id(BATCH, 1) } })],
    'trace of a hive': [rules, () => ({ call: 'trace', now, subject: { kind: 'hive', id: hives[0] } })],
    balance: [rules, () => ({ call: 'balance', subject: { kind: 'run', id: id(RUN, 0) } })],
    'find a super': [rules, () => ({ call: 'find', code: 'S41' })],
    'blend, read off 40 pails': [rules, () => blend],
    'plan_blend of 40 pails': [reckon, () => ({ call: 'reckon', name: 'plan_blend', inputs: rules(blend).inputs })],
    'next_code': [rules, () => ({ call: 'next_code', device_id, season: 2025 })],
  };
  const took = {};
  const answers = {};
  for (const [name, [of, question]] of Object.entries(calls)) {
    const times = [];
    for (let turn = 0; turn < 5; turn += 1) {
      const asked = question();
      const from = performance.now();
      answers[name] = of(asked);
      times.push(performance.now() - from);
    }
    // The first turn pays for compiling, which a person pays once.
    took[name] = times.map((time) => Math.round(10 * time) / 10);
  }
  return { rows: rows.length, entries: entries.length, took, bad: Object.entries(answers).filter(([, said]) => said?.bad_field).map(([name, said]) => [name, said.bad_field]), said: Object.fromEntries(Object.entries(answers).map(([name, said]) => [name, JSON.stringify(said).slice(0, 160)])) };
}
