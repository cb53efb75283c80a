// An open page says so now and then: a desk whose pages are all closed ends after a while.
setInterval(() => { fetch("/alive").catch(() => {}); }, 4 * 60 * 1000);
