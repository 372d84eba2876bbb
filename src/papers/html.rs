//! One page of HTML with the plan, the findings, the gap cards and a search: no other file, no network.

use std::fmt::Write;

use super::findings::{
    ASSUMED, GROUPS, assumed_table, bounds, decided, decided_on, of_class, weight,
};
use super::gap_cards::{Card, card};
use super::table::Table;
use super::{Facts, PaperFile, Request, cut_list, feeder_list, foot, plan};
use crate::drawing::{escaped, svg_fragment};
use crate::findings::{Caution, Decisions, about_words};
use crate::layout::shown;

/// The page's look; small, so that it is read at once.
const STYLE: &str = include_str!("page.css");
/// Search and zoom. Without it everything is still there to read.
const SCRIPT: &str = include_str!("page.js");

/// The page.
pub fn make(facts: &Facts, request: &Request) -> PaperFile {
    PaperFile { name: "layout.html".to_owned(), bytes: page(facts, request).into_bytes() }
}

/// A text of the user for HTML: what a reader would obey is escaped as everywhere else.
fn safe(text: &str) -> String {
    escaped(&shown(text))
}

fn page(facts: &Facts, request: &Request) -> String {
    let title = safe(&facts.title(request));
    let mut out = format!(
        "<!DOCTYPE html>\n<html lang=\"en\">\n<head>\n<meta charset=\"utf-8\">\n\
         <meta http-equiv=\"Content-Security-Policy\" content=\"default-src 'none'; style-src 'unsafe-inline'; \
         script-src 'unsafe-inline'; img-src data:\">\n\
         <meta name=\"viewport\" content=\"width=device-width, initial-scale=1\">\n\
         <link rel=\"icon\" href=\"data:,\">\n<title>{title}</title>\n<style>\n{STYLE}</style>\n</head>\n<body>\n\
         <a class=\"skip\" href=\"#main\">To the content</a>\n\
         <header>\n<h1>{title}</h1>\n<p>{}</p>\n<p class=\"aside\">{}</p>\n\
         <nav aria-label=\"Parts of this page\"><a href=\"#plan\">Plan</a> <a href=\"#findings\">Findings</a> \
         <a href=\"#cards\">Gap cards</a> <a href=\"#cuts\">Cut list</a> <a href=\"#feeders\">Feeder list</a></nav>\n\
         <form role=\"search\" class=\"search\"><label for=\"search\">Search</label>\
         <input id=\"search\" type=\"search\" autocomplete=\"off\" placeholder=\"a gap, a block, a word\">\
         <p id=\"found\" role=\"status\"></p></form>\n</header>\n<main id=\"main\">\n",
        safe(&facts.tally.words()),
        safe(&foot(facts, request)),
    );
    plan_part(&mut out, facts, &title);
    findings_part(&mut out, facts);
    cards_part(&mut out, facts);
    let cuts = cut_list::table(facts);
    let feeders = feeder_list::table(facts);
    let saw = [Caution::Power, Caution::Saw, Caution::Solder, Caution::Fumes];
    let wire = [Caution::Power, Caution::Rewire, Caution::Fuse, Caution::Listed, Caution::Mains];
    for (id, heading, table, care) in
        [("cuts", "Cut list", &cuts, &saw[..]), ("feeders", "Feeder list", &feeders, &wire[..])]
    {
        let _ = writeln!(out, "<section id=\"{id}\">\n<h2>{heading}</h2>");
        cautions(&mut out, care);
        table_part(&mut out, heading, table);
        out.push_str("</section>\n");
    }
    let _ = write!(out, "</main>\n<script>\n{SCRIPT}</script>\n</body>\n</html>\n");
    out
}

fn plan_part(out: &mut String, facts: &Facts, title: &str) {
    out.push_str("<section id=\"plan\">\n<h2>Plan</h2>\n");
    match plan::picture(facts) {
        Some(page) => {
            let _ = write!(
                out,
                "<div class=\"buttons\" role=\"group\" aria-label=\"Size of the plan\">\
                 <button type=\"button\" id=\"in\">Larger</button> <button type=\"button\" id=\"out\">Smaller</button> \
                 <button type=\"button\" id=\"fit\">Whole plan</button></div>\n\
                 <div class=\"plan\" tabindex=\"0\" role=\"region\" aria-label=\"Plan, to scroll\">\n{}</div>\n",
                svg_fragment(&page, &format!("Track plan of {title}"), "track")
            );
        }
        None => out.push_str("<p>This layout has no track.</p>\n"),
    }
    out.push_str("</section>\n");
}

fn findings_part(out: &mut String, facts: &Facts) {
    out.push_str("<section id=\"findings\">\n<h2>Findings</h2>\n");
    if facts.report.findings.is_empty() {
        out.push_str("<p>The check found nothing.</p>\n");
    }
    let decisions = Decisions::of(facts.layout, &facts.report);
    for (class, heading) in GROUPS {
        let mut own = of_class(facts, class).peekable();
        if own.peek().is_none() {
            continue;
        }
        let _ = writeln!(out, "<h3>{heading}</h3>");
        for (finding, text) in own {
            let _ = writeln!(
                out,
                "<article class=\"item\">\n<h4><span class=\"verdict\">{}</span> {}</h4>",
                safe(&weight(finding)),
                safe(&text.says)
            );
            for words in [&text.why, &text.more].into_iter().filter(|words| !words.is_empty()) {
                let _ = writeln!(out, "<p>{}</p>", safe(words));
            }
            list(out, &text.advice);
            for line in decided_on(facts, &decisions, finding) {
                let _ = writeln!(out, "<p><strong>{}</strong></p>", escaped(&line));
            }
            out.push_str("</article>\n");
        }
    }
    let past = decisions.past(facts.layout);
    if !past.is_empty() {
        out.push_str("<h3>Decided, and no longer found</h3>\n");
    }
    for decision in past {
        let (said, decided) = (escaped(&about_words(decision)), escaped(&decided(decision)));
        let _ = writeln!(out, "<p>{said}<br><strong>{decided}</strong></p>");
    }
    out.push_str("<h3>What the verdicts assume</h3>\n");
    list(out, ASSUMED);
    list(out, &bounds(facts));
    let table = assumed_table(facts);
    if !table.rows.is_empty() {
        table_part(out, "Values that are assumed", &table);
    }
    out.push_str("</section>\n");
}

fn cards_part(out: &mut String, facts: &Facts) {
    out.push_str("<section id=\"cards\">\n<h2>Gap cards</h2>\n");
    if facts.report.cuts.is_empty() {
        out.push_str("<p>This layout has no gaps.</p>\n");
    }
    for cut in &facts.report.cuts {
        card_part(out, &card(facts, cut));
    }
    out.push_str("</section>\n");
}

fn card_part(out: &mut String, card: &Card) {
    let gap = safe(&card.gap);
    let [first, second] = [0, 1].map(|side| safe(&card.sides[side]));
    let _ = writeln!(
        out,
        "<article class=\"item card\">\n<h3>Gap {gap}</h3>\n<p>{first} | {second}</p>"
    );
    if !card.cells.is_empty() {
        let _ = write!(
            out,
            "<div class=\"wide\"><table>\n<caption>{first} down, {second} across</caption>\n<thead><tr><td></td>"
        );
        for word in &card.columns {
            let _ = write!(out, "<th scope=\"col\">{}</th>", word.word());
        }
        out.push_str("</tr></thead>\n<tbody>\n");
        for (word, cells) in card.rows.iter().zip(&card.cells) {
            let _ = write!(out, "<tr><th scope=\"row\">{}</th>", word.word());
            for cell in cells {
                let class = if cell == "clear" || cell.is_empty() { "" } else { " class=\"not\"" };
                let _ = write!(out, "<td{class}>{}</td>", safe(cell));
            }
            out.push_str("</tr>\n");
        }
        out.push_str("</tbody>\n</table></div>\n");
    }
    for line in &card.matches {
        let _ = writeln!(out, "<p>{}</p>", safe(line));
    }
    if !card.trains.is_empty() {
        let _ = writeln!(out, "<p>Where settings agree: {}</p>", safe(&card.trains.join("; ")));
    }
    out.push_str("</article>\n");
}

fn list(out: &mut String, items: &[impl AsRef<str>]) {
    if items.is_empty() {
        return;
    }
    out.push_str("<ul>\n");
    for item in items {
        let _ = writeln!(out, "<li>{}</li>", safe(item.as_ref()));
    }
    out.push_str("</ul>\n");
}

fn cautions(out: &mut String, cautions: &[Caution]) {
    out.push_str("<div class=\"care\">\n<h3>Take care</h3>\n");
    let lines: Vec<&str> = cautions.iter().map(|caution| caution.line()).collect();
    list(out, &lines);
    out.push_str("</div>\n");
}

/// A table without its columns for ticks and writing.
fn table_part(out: &mut String, caption: &str, table: &Table) {
    let columns = table.written();
    let _ = write!(
        out,
        "<div class=\"wide\" tabindex=\"0\" role=\"region\" aria-label=\"{0}, to scroll\"><table>\n<caption>{0}</caption>\n\
         <thead><tr>",
        safe(caption)
    );
    for &at in &columns {
        let _ = write!(out, "<th scope=\"col\">{}</th>", safe(&table.heads[at]));
    }
    out.push_str("</tr></thead>\n<tbody>\n");
    for row in &table.rows {
        out.push_str("<tr class=\"item\">");
        for (n, &at) in columns.iter().enumerate() {
            let text = row.get(at).map_or("", |cell| cell.plain());
            let _ = match n {
                0 => write!(out, "<th scope=\"row\">{}</th>", safe(text)),
                _ => write!(out, "<td>{}</td>", safe(text)),
            };
        }
        out.push_str("</tr>\n");
    }
    out.push_str("</tbody>\n</table></div>\n");
}
