//! Terms as bracketed lists of words, `(+ a b)`, which are easier to read than arrays of texts.

use serde_json::{Value, json};

/// `["+", "a", "b"]` for `(+ a b)`.
pub fn list(text: &str) -> Value {
    let mut open = vec![Vec::new()];
    for word in text.replace('(', " ( ").replace(')', " ) ").split_whitespace() {
        match word {
            "(" => open.push(Vec::new()),
            ")" => {
                let done = Value::Array(open.pop().unwrap());
                open.last_mut().unwrap().push(done);
            }
            word => open.last_mut().unwrap().push(word.into()),
        }
    }
    // What is left open is closed: tests write that as well.
    while open.len() > 1 {
        let done = Value::Array(open.pop().unwrap());
        open.last_mut().unwrap().push(done);
    }
    open.pop().unwrap().pop().unwrap_or_default()
}

pub fn lists(texts: &[&str]) -> Value {
    texts.iter().map(|text| list(text)).collect()
}

/// A certificate for a formula of lines `(real x)`, `(whole n)`, `(let w TERM)`, `(given COND)`, `(show COND)`.
pub fn document(formula: &[&str], evidence: &Value) -> String {
    let (mut real, mut whole, mut names) = (Vec::new(), Vec::new(), Vec::new());
    let (mut given, mut show) = (Vec::new(), Value::Null);
    for line in formula.iter().map(|line| list(line)) {
        match line[0].as_str() {
            Some("real") => real.push(line[1].clone()),
            Some("whole") => {
                real.push(line[1].clone());
                whole.push(json!(["=", ["floor", line[1]], line[1]]));
            }
            Some("let") => names.push(json!([line[1], line[2]])),
            Some("given") => given.push(line[1].clone()),
            _ => show = line[1].clone(),
        }
    }
    let given = [whole, given].concat();
    let formula = json!({ "real": real, "let": names, "given": given, "show": show });
    json!({ "version": 3, "id": "test", "formula": formula, "evidence": evidence }).to_string()
}
