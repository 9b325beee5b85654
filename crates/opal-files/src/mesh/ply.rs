//! PLY, in its three forms.

use super::ply_header::{self, Body, Element, Header, Kind};
use super::raw::{
    Complaints, FACES_MAX, NO_VERTEX, RawMesh, TOO_LARGE, VERTICES_MAX, shown, words,
};
use opal_evidence::Faults;

/// Reads a PLY file: x, y, z of the element `vertex`, the corner list of the
/// element `face`; everything else is passed over.
pub(super) fn read(bytes: &[u8], file: &str) -> Result<RawMesh, Faults> {
    let header = ply_header::read(bytes, file)?;
    let body = &bytes[header.start..];
    check(&header, body.len() as u64, file)?;
    match header.body {
        Body::Text => read_text(&header, body, file),
        Body::LittleEndian => read_binary::<true>(&header, body, file),
        Body::BigEndian => read_binary::<false>(&header, body, file),
    }
}

/// Sees that the body can hold what the head announces, before any memory is
/// taken for it, and that there is a mesh in it.
fn check(header: &Header, body_len: u64, file: &str) -> Result<(), Faults> {
    let mut wrong = Complaints::new(file);
    let mut needed = 0_u64;
    for element in &header.elements {
        let row = element.row_len_min(header.body);
        let most = match element.name.as_str() {
            "vertex" => VERTICES_MAX as u64,
            "face" => FACES_MAX as u64,
            _ => u64::MAX,
        };
        if element.count > most {
            wrong.add(
                None,
                &format!("element {}", element.name),
                element.count,
                TOO_LARGE,
            );
        }
        if row == 0 && element.count > 0 {
            let found = format!("{} rows of nothing", element.count);
            wrong.add(
                None,
                &format!("element {}", element.name),
                found,
                "properties are needed",
            );
        }
        needed = needed.saturating_add(row.saturating_mul(element.count));
    }
    // The last line of a text may lack its end.
    if needed > body_len.saturating_add(1) {
        let counts: Vec<String> = header
            .elements
            .iter()
            .map(|e| format!("{} {}", e.count, e.name))
            .collect();
        wrong.add(
            None,
            "element counts",
            counts.join(", "),
            &format!("they need {needed} bytes at least and the file has {body_len}: it is cut short, or the counts are wrong"),
        );
    }
    let named = |name: &str| header.elements.iter().find(|e| e.name == name);
    match named("vertex") {
        Some(vertex) => {
            for axis in ["x", "y", "z"] {
                if !vertex
                    .properties
                    .iter()
                    .any(|p| p.name == axis && p.list.is_none())
                {
                    wrong.add(
                        None,
                        &format!("property {axis} of element vertex"),
                        "missing",
                        "x, y and z are needed",
                    );
                }
            }
        }
        None => {
            wrong.add(None, "element vertex", "missing", "a mesh needs it");
        }
    }
    match named("face") {
        Some(face) if face.properties.iter().any(is_corner_list) => {}
        Some(_) => {
            wrong.add(
                None,
                "property vertex_indices of element face",
                "missing",
                "a list of whole numbers is needed",
            );
        }
        None => {
            wrong.add(
                None,
                "element face",
                "missing",
                "a cloud of points has no inside: export the scan as a mesh",
            );
        }
    }
    wrong.or(RawMesh::default()).map(|_| ())
}

fn is_corner_list(property: &ply_header::Property) -> bool {
    let whole = |kind| !matches!(kind, Kind::F32 | Kind::F64);
    property.list.is_some_and(whole)
        && whole(property.kind)
        && matches!(property.name.as_str(), "vertex_indices" | "vertex_index")
}

/// What to do with the rows of an element.
enum Task {
    /// Places of x, y and z among the properties.
    Vertices([usize; 3]),
    /// Place of the corner list.
    Faces(usize),
    Skip,
}

fn task(element: &Element) -> Task {
    let at = |name: &str| {
        element
            .properties
            .iter()
            .position(|p| p.name == name && p.list.is_none())
    };
    match element.name.as_str() {
        "vertex" => match (at("x"), at("y"), at("z")) {
            (Some(x), Some(y), Some(z)) => Task::Vertices([x, y, z]),
            _ => Task::Skip,
        },
        "face" => element
            .properties
            .iter()
            .position(is_corner_list)
            .map_or(Task::Skip, Task::Faces),
        _ => Task::Skip,
    }
}

fn number<const LITTLE: bool>(kind: Kind, at: &[u8]) -> f64 {
    macro_rules! get {
        ($type:ty, $n:literal) => {{
            let mut bytes = [0_u8; $n];
            bytes.copy_from_slice(&at[..$n]);
            if LITTLE {
                <$type>::from_le_bytes(bytes)
            } else {
                <$type>::from_be_bytes(bytes)
            }
        }};
    }
    match kind {
        Kind::I8 => f64::from(get!(i8, 1)),
        Kind::U8 => f64::from(at[0]),
        Kind::I16 => f64::from(get!(i16, 2)),
        Kind::U16 => f64::from(get!(u16, 2)),
        Kind::I32 => f64::from(get!(i32, 4)),
        Kind::U32 => f64::from(get!(u32, 4)),
        Kind::F32 => f64::from(get!(f32, 4)),
        Kind::F64 => get!(f64, 8),
    }
}

fn corner(value: f64) -> u32 {
    if value >= 0.0 && value < f64::from(NO_VERTEX) {
        value as u32
    } else {
        NO_VERTEX
    }
}

fn read_binary<const LITTLE: bool>(
    header: &Header,
    mut body: &[u8],
    file: &str,
) -> Result<RawMesh, Faults> {
    let mut mesh = RawMesh::default();
    let wrong = Complaints::new(file);
    let mut corners: Vec<u32> = Vec::new();
    let mut thin = 0;
    for element in &header.elements {
        let task = task(element);
        if let (Task::Vertices(places), Some(row_len)) = (&task, element.fixed_row_len()) {
            let shifts = places.map(|k| {
                element.properties[..k]
                    .iter()
                    .map(|p| p.kind.size())
                    .sum::<usize>()
            });
            let kinds = places.map(|k| element.properties[k].kind);
            let len = usize::try_from(element.count)
                .unwrap_or(usize::MAX)
                .saturating_mul(row_len);
            let Some((rows, rest)) = body.split_at_checked(len) else {
                return wrong.refuse(
                    None,
                    "element vertex",
                    "incomplete",
                    "the file is cut short",
                );
            };
            mesh.vertices.extend(
                rows.chunks_exact(row_len)
                    .map(|row| [0, 1, 2].map(|k| number::<LITTLE>(kinds[k], &row[shifts[k]..]))),
            );
            body = rest;
            continue;
        }
        if matches!(task, Task::Faces(_)) {
            mesh.faces
                .reserve(usize::try_from(element.count).unwrap_or(0).min(FACES_MAX));
        }
        for row in 0..element.count {
            let mut point = [0.0; 3];
            for (k, property) in element.properties.iter().enumerate() {
                let (count, size) = match property.list {
                    None => (1, property.kind.size()),
                    Some(kind) => {
                        let Some((head, rest)) = body.split_at_checked(kind.size()) else {
                            return cut_short(wrong, element, row);
                        };
                        body = rest;
                        let count = number::<LITTLE>(kind, head);
                        if !(count >= 0.0
                            && count * property.kind.size() as f64 <= body.len() as f64)
                        {
                            return wrong.refuse(
                                None,
                                &format!(
                                    "count of list {} in row {row} of element {}",
                                    property.name, element.name
                                ),
                                count,
                                "the file has no room for so many",
                            );
                        }
                        (count as usize, property.kind.size())
                    }
                };
                let Some((values, rest)) = body.split_at_checked(count * size) else {
                    return cut_short(wrong, element, row);
                };
                body = rest;
                match task {
                    Task::Vertices(places) => {
                        for (axis, &place) in places.iter().enumerate() {
                            if place == k {
                                point[axis] = number::<LITTLE>(property.kind, values);
                            }
                        }
                    }
                    Task::Faces(place) if place == k => {
                        corners.clear();
                        corners.extend(
                            values
                                .chunks_exact(size)
                                .map(|v| corner(number::<LITTLE>(property.kind, v))),
                        );
                        thin += usize::from(!mesh.push_polygon(&corners));
                    }
                    _ => {}
                }
            }
            if matches!(task, Task::Vertices(_)) {
                mesh.vertices.push(point);
            }
        }
    }
    note_thin(&mut mesh, thin);
    Ok(mesh)
}

fn cut_short(wrong: Complaints<'_>, element: &Element, row: u64) -> Result<RawMesh, Faults> {
    wrong.refuse(
        None,
        &format!("element {}", element.name),
        format!("{row} whole rows long"),
        &format!("{} are announced: the file is cut short", element.count),
    )
}

fn note_thin(mesh: &mut RawMesh, thin: usize) {
    if thin > 0 {
        mesh.notes.push(format!(
            "{thin} faces with fewer than three corners left out."
        ));
    }
}

fn read_text(header: &Header, body: &[u8], file: &str) -> Result<RawMesh, Faults> {
    let mut mesh = RawMesh::default();
    let mut wrong = Complaints::new(file);
    let mut rows = super::raw::lines(body)
        .map(|(k, line)| (k + header.n_lines, line))
        .filter(|(_, line)| !line.trim_ascii().is_empty());
    let mut corners: Vec<u32> = Vec::new();
    let mut thin = 0;
    for element in &header.elements {
        let task = task(element);
        for row in 0..element.count {
            let Some((line_number, line)) = rows.next() else {
                return cut_short(wrong, element, row);
            };
            if matches!(task, Task::Skip) {
                continue;
            }
            let mut point = [0.0; 3];
            corners.clear();
            if row_of_text(element, &task, line, &mut point, &mut corners).is_none() {
                let limit = format!("{} are needed", wanted(element));
                let field = format!("row {row} of element {}", element.name);
                if wrong.add(Some(line_number), &field, shown(line), &limit) {
                    return wrong.or(mesh);
                }
            }
            match task {
                Task::Vertices(_) => mesh.vertices.push(point),
                Task::Faces(_) => thin += usize::from(!mesh.push_polygon(&corners)),
                Task::Skip => {}
            }
        }
    }
    note_thin(&mut mesh, thin);
    wrong.or(mesh)
}

fn row_of_text(
    element: &Element,
    task: &Task,
    line: &[u8],
    point: &mut [f64; 3],
    corners: &mut Vec<u32>,
) -> Option<()> {
    let mut words = words(line);
    for (k, property) in element.properties.iter().enumerate() {
        let is_corners = matches!(task, Task::Faces(place) if *place == k);
        let count: u64 = match property.list {
            None => 1,
            Some(_) => words.next()?.parse().ok()?,
        };
        for _ in 0..count {
            let word = words.next()?;
            if is_corners {
                let index = word.parse::<i64>().ok()?;
                corners.push(u32::try_from(index).unwrap_or(NO_VERTEX));
            } else if let Task::Vertices(places) = task {
                for (axis, &place) in places.iter().enumerate() {
                    if place == k {
                        point[axis] = word.parse().ok()?;
                    }
                }
            }
        }
    }
    Some(())
}

fn wanted(element: &Element) -> String {
    let names: Vec<String> = element
        .properties
        .iter()
        .map(|p| {
            if p.list.is_some() {
                format!("count and list {}", p.name)
            } else {
                p.name.clone()
            }
        })
        .collect();
    names.join(", ")
}
