// What is set up once and described anew later: which entry tells it, and which fields it has. The rules check them.

const NAME = ['name', 'text', { needs: true }];
const CLASSES = ['medium', 'deep', 'shallow'];
const CONTAINERS = ['pail', 'bucket', 'tank', 'drum'];

// `kind`: of the rows; `id`: the field that names it; `range`: many at once, numbered; `fields`: all there is to tell;
// `fixed`: those that are told once and not described anew.
export const THINGS = {
  yards: { kind: 'yard', id: 'yard_id', fields: [NAME, ['code', 'text'], ['ground', 'text'], ['latitude_e5', 'degrees'], ['longitude_e5', 'degrees']] },
  hives: { kind: 'hive', id: 'hive_id', number: 'code', range: 3, prefix: true, fields: [['code', 'text', { needs: true }], ['yard_id', 'one', { needs: true, rows: 'yard' }]], fixed: ['yard_id'] },
  supers: { kind: 'super', id: 'super_id', number: 'number', range: 3, fields: [['number', 'text', { needs: true }], ['class', 'one', { needs: true, words: CLASSES }], ['frames', 'count', { needs: true, value: 10 }], ['tare_g', 'mass']] },
  containers: { kind: 'container', id: 'container_id', number: 'number', range: 2, prefix: true, fields: [['number', 'text', { needs: true }], ['container', 'one', { needs: true, words: CONTAINERS }], ['tare_g', 'mass', { needs: true }], ['holds_ml', 'litres', { needs: true }]], fixed: ['container'] },
  meters: { kind: 'meter', id: 'meter_id', fields: [NAME, ['compensated', 'yes', { needs: true }]] },
  scales: { kind: 'scale', id: 'scale_id', fields: [NAME, ['step_g', 'grams', { needs: true }]] },
  rooms: { kind: 'room', id: 'room_id', fields: [NAME] },
  medicines: { kind: 'medicine', id: 'medicine_id', fields: [NAME, ['substance', 'text'], ['wait_days', 'count', { needs: true }], ['supers_allowed', 'yes', { needs: true }]] },
  buyers: { kind: 'customer', id: 'customer_id', fields: [NAME, ['address', 'text'], ['phone', 'text']] },
};

// What happened to a thing that was set up, one form each below its description.
export const ABOUT = {
  meters: [{ kind: 'meter_checked', fields: [['passed', 'yes', { needs: true }], ['offset_hundredths', 'percent']] }],
  scales: [{ kind: 'scale_checked', fields: [['passed', 'yes', { needs: true }]] }],
  rooms: [{ kind: 'room_read', fields: [['air_tenths_c', 'tenths', { needs: true }], ['humidity_percent', 'count', { needs: true }]] }],
  medicines: [
    { kind: 'medicine_bought', fields: [['batch', 'text', { needs: true }], ['quantity', 'pieces', { needs: true }], ['supplier', 'text', { needs: true }], ['receipt', 'text'], ['use_before', 'date']] },
    { kind: 'medicine_disposed', fields: [['quantity', 'pieces', { needs: true }], ['how', 'text', { needs: true }], ['batch', 'text']] },
  ],
  containers: [{ kind: 'container_washed', fields: [] }],
};
