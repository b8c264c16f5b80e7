// The service worker, and the new version that waits until somebody accepts it.

let waiting = null;
let accepted = false;

export const isWaiting = () => Boolean(waiting);

export function accept() {
  accepted = true;
  waiting?.postMessage('take over');
}

export async function start(tell) {
  if (!('serviceWorker' in navigator)) return;
  // Only this one script may ever become a worker.
  const policy = globalThis.trustedTypes?.createPolicy('sw', {
    createScriptURL: (url) => {
      if (url !== '/sw.js') throw new TypeError('no other worker');
      return url;
    },
  });
  navigator.serviceWorker.addEventListener('controllerchange', () => {
    if (accepted) location.reload();
    accepted = false;
  });
  try {
    const url = policy ? policy.createScriptURL('/sw.js') : '/sw.js';
    const registration = await navigator.serviceWorker.register(url, { scope: '/', updateViaCache: 'none' });
    const look = (worker) => {
      if (!worker) return;
      const see = () => {
        // The very first one waits for nobody.
        if (worker.state === 'installed' && navigator.serviceWorker.controller) {
          waiting = worker;
          tell();
        }
      };
      worker.addEventListener('statechange', see);
      see();
    };
    look(registration.waiting);
    registration.addEventListener('updatefound', () => look(registration.installing));
  } catch (error) {
    console.error(error);
  }
}
