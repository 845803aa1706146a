import { expect, test } from 'vitest';
import { html, page, trusted } from '../../src/web/html.js';

test('what is put into a template is text, whatever signs are in it', () => {
  const hostile = `"><script>alert('1')</script>&amp;`;
  expect(html`<p title="${hostile}">${hostile}</p>`.markup).toBe(
    '<p title="&quot;&gt;&lt;script&gt;alert(&#39;1&#39;)&lt;/script&gt;&amp;amp;">&quot;&gt;&lt;script&gt;alert(&#39;1&#39;)&lt;/script&gt;&amp;amp;</p>',
  );
});

test('markup, lists of it, numbers and nothing are put in as they are', () => {
  const items = ['a', '<b>'].map((item) => html`<li>${item}</li>`);
  expect(html`<ul>${items}</ul>${41.5}${undefined}${false}${trusted('<br>')}`.markup).toBe(
    '<ul><li>a</li><li>&lt;b&gt;</li></ul>41.5<br>',
  );
});

test('a page marks where the reader is, and has no script unless it is given one', () => {
  const plain = page({ title: 'A & B', nav: 'trend', body: html`<h1>T</h1>` });
  expect(plain).toContain('<title>A &amp; B · stillband</title>');
  expect(plain).toMatch(/<a href="\/trend"\s+aria-current="page">Trend<\/a>/);
  expect(plain.match(/aria-current/g)).toHaveLength(1);
  expect(plain).not.toContain('<script');
  expect(page({ title: 'M', body: html``, script: 'measure.js' })).toContain('src="/assets/measure.js"');
});
