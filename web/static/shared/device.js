/** What this device may do here. A watcher is not offered what it may not ask for; one that is shut out is told. */

/** Ask what this device is; show what goes with it. */
export async function askWhatThisIs() {
  try {
    const device = await (await fetch("/api/device")).json();
    if (device.role === "anyone") return window.location.reload(); // its pairing was ended: the way to pair again
    document.documentElement.dataset.role = device.role;
    for (const id of ["devices-link", "watches"]) {
      const node = document.getElementById(id);
      if (node) node.hidden = device.role !== (id === "watches" ? "watcher" : "operator");
    }
  } catch { /* the network is lost, which the page says in its own way */ }
}
