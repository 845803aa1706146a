/** What the server tells first. */
interface Session {
  readonly version: string;
  readonly logbook: boolean;
}

const place = document.querySelector('#measure');
const session = (await (await fetch('/api/session')).json()) as Session;
const told = document.createElement('p');
told.textContent = `Version ${session.version}. ${session.logbook ? 'Readings can be saved in the logbook.' : 'No logbook was given: readings can be downloaded.'}`;
place?.replaceChildren(told);

export {};
