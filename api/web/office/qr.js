// A QR code as a drawing. The service works out the modules; here they are only drawn, black on white with four light
// ones around, so that any camera reads them.

import { svg } from '../dom.js';
import * as session from '../session.js';

const QUIET = 4;

export async function qr(text, title) {
  const answer = await session.call('POST', '/v1/qr-codes', { text });
  if (answer.status !== 200) throw new Error(answer.body.detail);
  const { rows } = answer.body;
  const size = rows.length + 2 * QUIET;
  const dark = rows.flatMap((row, y) => [...row].map((cell, x) => (cell === '1' ? `M${x + QUIET} ${y + QUIET}h1v1h-1z` : '')));
  return svg(
    'svg',
    { viewBox: `0 0 ${size} ${size}`, class: 'qr', role: 'img', 'aria-label': title, 'shape-rendering': 'crispEdges' },
    svg('rect', { width: size, height: size, fill: '#fff' }),
    svg('path', { d: dark.join(''), fill: '#000' }),
  );
}
