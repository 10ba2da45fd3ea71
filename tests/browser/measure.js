// What can be measured of a page in the browser, as lines of a table (tests/browser.bash). The page is
// then replaced by them, so that they are all that the browser hands out.
"use strict";
window.addEventListener("load", () => {
	const lines = [], texts = [];
	const say = (...cells) => lines.push(cells.map((c) => String(c).replace(/[\s<>&]+/g, " ")).join("\t"));
	const round = (r) => [r.left, r.top, r.right, r.bottom].map((x) => x.toFixed(1)).join(",");

	// --- colours ---
	const rgba = (text) => {
		const c = (text.match(/[\d.]+/g) || []).map(Number);
		return text === "none" || c.length < 3 ? null : { c, a: c.length > 3 ? c[3] : 1 };
	};
	const over = (top, below) => top.c.slice(0, 3).map((x, i) => x * top.a + below[i] * (1 - top.a));
	const luminance = (c) => {	// WCAG 2.1, relative luminance
		const l = c.map((x) => x / 255).map((x) => x <= 0.03928 ? x / 12.92 : ((x + 0.055) / 1.055) ** 2.4);
		return 0.2126 * l[0] + 0.7152 * l[1] + 0.0722 * l[2];
	};
	const contrast = (a, b) => {
		const x = luminance(a), y = luminance(b);
		return (Math.max(x, y) + 0.05) / (Math.min(x, y) + 0.05);
	};
	const backgroundOf = (e) => {
		const above = [];
		for (; e; e = e.parentElement) {
			const c = rgba(getComputedStyle(e).backgroundColor);
			if (c && c.a > 0)
				above.push(c);
		}
		return above.reduceRight((below, c) => over(c, below), [255, 255, 255]);
	};
	// the filled shapes that were drawn before the text and lie below the middle of its box
	const shapes = new Map();
	const filled = (svg) => {
		if (!shapes.has(svg))
			shapes.set(svg, [...svg.querySelectorAll("rect, circle, path, polygon")].map((e) =>
				({ e, r: e.getBoundingClientRect(), c: rgba(getComputedStyle(e).fill) }))
				.filter((s) => s.c && s.c.a > 0 && s.r.width > 0 && s.r.height > 0));
		return shapes.get(svg);
	};
	const behind = (t) => {
		let colour = backgroundOf(t.svg || t.e);
		if (!t.svg)
			return colour;
		const x = (t.r.left + t.r.right) / 2, y = (t.r.top + t.r.bottom) / 2;
		for (const s of filled(t.svg))
			if (s.e.compareDocumentPosition(t.e) & Node.DOCUMENT_POSITION_FOLLOWING &&
			    s.r.left <= x && x <= s.r.right && s.r.top <= y && y <= s.r.bottom)
				colour = over(s.c, colour);
		return colour;
	};

	// --- each line of each text, where it stands and in what ---
	const block = (e) => {
		while (e.parentElement && getComputedStyle(e).display.startsWith("inline"))
			e = e.parentElement;
		return e;
	};
	const walk = document.createTreeWalker(document.body, NodeFilter.SHOW_TEXT);
	for (let node = walk.nextNode(); node; node = walk.nextNode()) {
		const e = node.parentElement, svg = e.closest("svg");
		if (!node.data.trim() || e.closest("script, style, title, desc") ||
		    getComputedStyle(e).visibility !== "visible")
			continue;
		const range = document.createRange();
		range.selectNodeContents(node);
		for (const r of range.getClientRects())
			if (r.width > 0 && r.height > 0)
				texts.push({ e, svg, r, node, say: node.data.trim().slice(0, 60) });
	}
	const root = document.documentElement;
	say("page", root.scrollWidth, root.scrollHeight);
	if (root.scrollWidth > root.clientWidth)
		say("outside", "the page is wider than the window", `${root.scrollWidth} of ${root.clientWidth}`);
	let least = Infinity;
	for (const t of texts) {
		const scale = t.svg ? t.e.getScreenCTM().a : 1;
		const style = getComputedStyle(t.e);
		let box = (t.svg || block(t.e)).getBoundingClientRect();
		least = Math.min(least, parseFloat(style.fontSize) * scale);
		if (t.r.left < box.left - 1 || t.r.right > box.right + 1 || t.r.top < box.top - 3 ||
		    t.r.bottom > box.bottom + 3)
			say("outside", t.say, `${round(t.r)} of ${round(box)}`);
		const colour = rgba(t.svg ? style.fill : style.color), below = behind(t);
		const ratio = colour ? contrast(over(colour, below), below) : 1;
		if (ratio < 4.5)
			say("contrast", t.say, ratio.toFixed(2));
	}
	// A line's box has room for accents and tails, so its middle 7 tenths are compared.
	const cores = texts.map((text) => ({ text, left: text.r.left + 0.5, right: text.r.right - 0.5,
		top: text.r.top + text.r.height * 0.15, bottom: text.r.bottom - text.r.height * 0.15 }));
	cores.sort((a, b) => a.top - b.top);
	cores.forEach((a, i) => {
		for (let j = i + 1; j < cores.length && cores[j].top < a.bottom; j++) {
			const b = cores[j];
			if (a.text.node !== b.text.node && a.left < b.right && b.left < a.right)
				say("overlap", `${a.text.say} / ${b.text.say}`,
					`${round(a.text.r)} ${round(b.text.r)}`);
		}
	});

	// --- what would be fetched ---
	const asked = new Set(performance.getEntriesByType("resource").map((r) => r.name));
	for (const e of document.querySelectorAll("*"))
		for (const a of e.attributes) {
			if (/^(src|srcset|data|poster|background)$/.test(a.name) ||
			    (/href$/.test(a.name) && e.localName !== "a"))
				if (!/^(#|data:)/.test(a.value))
					asked.add(a.value);
			for (const url of a.value.matchAll(/url\(\s*["']?([^)"']*)/g))
				if (!/^(#|data:)/.test(url[1]))
					asked.add(url[1]);
		}
	for (const e of document.querySelectorAll("style"))
		for (const url of e.textContent.matchAll(/(?:@import\s+|url\(\s*)["']?([^)"';]*)/g))
			if (!/^(#|data:)/.test(url[1]))
				asked.add(url[1]);
	for (const url of asked)
		say("fetch", url);
	for (const e of document.querySelectorAll("script"))
		if (!e.hasAttribute("data-measure"))
			say("script", e.textContent.slice(0, 60));
	const ids = [...document.querySelectorAll("[id]")].map((e) => e.id);
	for (const id of new Set(ids.filter((x, i) => ids.indexOf(x) !== i)))
		say("doubled", `id ${id}`);
	say("texts", texts.length);
	say("least-px", least.toFixed(2));
	const pre = document.createElement("pre");
	pre.textContent = `\nmeasured\n${lines.join("\n")}\nend of measured\n`;
	document.documentElement.replaceChildren(pre);
});
