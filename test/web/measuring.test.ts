import { describe, expect, test } from 'vitest';
import { measured, photoBytes, photoRecord } from '../helpers/measured.js';
import { tempFolder } from '../helpers/tempFolder.js';
import { heightsCsv, listEntries, textReport } from '../../src/index.js';
import { finished, OWN, photoForm, sent, serverForTests } from './serverForTests.js';

// The way from a photo to a saved reading. Truth is the measurement without a server, which has tests of its own.

const folder = tempFolder('file');
const server = serverForTests(() => ({ logbook: folder('logbook') }));

describe('a photo that is measured', () => {
  const once = (() => {
    let done: Promise<{ readonly id: string; readonly photo: string; readonly body: string }> | undefined;
    return () =>
      (done ??= (async () => {
        const app = server();
        const photo = await sent(app, photoBytes('white-card'), 'C:\\photos\\..\\tower "1".jpg');
        const { facePx, ...record } = photoRecord('white-card');
        const { id, answer } = await finished(app, {
          kind: 'measure',
          photos: [photo],
          record,
          cornersPx: facePx,
        });
        return { id, photo, body: answer.body };
      })());
  })();

  test('gives the reading that is measured without a server, number for number', async () => {
    const { reading } = await measured('white-card');
    const { state, result } = JSON.parse((await once()).body) as {
      state: string;
      result: { reading: unknown; exitCode: number; text: string; saved: unknown };
    };
    expect(state).toBe('done');
    expect(result.reading).toEqual(JSON.parse(JSON.stringify(reading)));
    expect(result).toMatchObject({ exitCode: 0, text: textReport(reading), saved: null });
  });

  test('has the profile and the spectrum of every height that the fit used', async () => {
    const { view } = await measured('white-card');
    const seen = view.heights?.() ?? [];
    const { result } = JSON.parse((await once()).body) as {
      result: { view: { heights: { heightMm: number; profile: { fitted: number[] } }[] } };
    };
    expect(result.view.heights.map(({ heightMm }) => heightMm)).toEqual(seen.map(({ heightMm }) => heightMm));
    expect(result.view.heights.map(({ profile }) => profile.fitted.length)).toEqual(
      seen.map(({ profile }) => profile.fitted.length),
    );
  });

  test('can be downloaded as the files that the command writes', async () => {
    const { reading } = await measured('white-card');
    const { id } = await once();
    const file = async (name: string) => server().inject(`/api/jobs/${id}/${name}`);
    expect((await file('reading.json')).body).toBe(`${JSON.stringify(reading, null, 2)}\n`);
    expect((await file('heights.csv')).body).toBe(heightsCsv(reading));
    expect((await file('picture.svg')).body).toMatch(/^<svg /);
    expect((await file('sheet.pdf?paper=letter')).rawPayload.subarray(0, 5).toString()).toBe('%PDF-');
    const html = await file('sheet.html');
    expect(html.body).toContain('41.0');
    // Its style is in it, and is allowed by its hash alone.
    expect(html.headers['content-security-policy']).toMatch(/style-src 'sha256-[\w+/]{43}='/);
    expect(html.headers['content-security-policy']).not.toContain('unsafe');
    expect((await file('sheet.html?paper=a5')).statusCode).toBe(400);
  });

  test('is saved once, and its sheet then says where', async () => {
    const { id } = await once();
    const save = () =>
      server().inject({
        method: 'POST',
        url: `/api/jobs/${id}/save`,
        headers: OWN,
        payload: { note: 'new belts' },
      });
    // Asked for twice at once, as by somebody who taps twice or whose first request seems lost.
    const [first, second] = await Promise.all([save(), save()]);
    expect(first.statusCode).toBe(201);
    expect([second.statusCode, second.json()]).toEqual([200, first.json()]);
    const { entry, head } = first.json<{ entry: number; head: string }>();
    expect(entry).toBe(1);
    expect((await save()).json()).toEqual({ entry, head, notes: [] });
    expect(listEntries(folder('logbook'))).toMatchObject([{ number: 1, axis: 'Y', note: 'new belts' }]);
    expect((await server().inject(`/api/jobs/${id}/sheet.html`)).body).toContain(head.slice(0, 12));
    const session = (await server().inject('/api/session')).json<{ machines: { axis: string }[] }>();
    expect(session.machines).toMatchObject([{ axis: 'Y', entry: 1, record: { speedMmPerS: 110 } }]);
  });
});

test('a photo that is none is refused with the code of the command', async () => {
  const answer = await server().inject(photoForm(Buffer.from('no picture'), 'tower.jpg'));
  expect(answer.statusCode).toBe(400);
  expect(answer.json()).toMatchObject({ error: { code: 'photo-format' } });
});
